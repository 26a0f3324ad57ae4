"""Writes the reference of the commands from the commands themselves.

``python -m rigledger.commands.reference`` writes pipeline/docs/commands.md anew.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from rigledger.files import write_text

_HEADER = """\
# The commands

Written by `python -m rigledger.commands.reference` from what `--help` says. Exit codes: 0 clean,
1 findings, 2 wrong use, or the disk refuses, 130 stopped by Ctrl-C.
Each command works without a network; what it writes is written whole or not at all.

"""
_WIDTH = 100


def commands() -> dict[str, Any]:
    """Give the commands by name, in the order in which ``--help`` lists them."""
    import typer

    from rigledger.cli import app

    group: Any = typer.main.get_command(app)
    return dict(group.commands)


def help_of(name: str, command: Any) -> str:  # noqa: ANN401 - the parser's own class has no stable name
    """Give what ``rigledger NAME --help`` prints, at a fixed width."""
    context = command.make_context(
        f"rigledger {name}", [], resilient_parsing=True,
        terminal_width=_WIDTH, max_content_width=_WIDTH,
    )  # fmt: skip
    text: str = command.get_help(context)
    return "\n".join(line.rstrip() for line in text.strip().splitlines()) + "\n"


def reference() -> str:
    """Give the page of all commands."""
    held = commands()
    links = " · ".join(f"[{name}](#{name})" for name in held)
    parts = [f"## {name}\n\n```text\n{help_of(name, held[name])}```\n" for name in held]
    return _HEADER + f"{links}\n\n" + "\n".join(parts)


def main() -> None:
    """Write the page."""
    docs = Path(__file__).resolve().parents[2] / "docs"
    write_text(docs / "commands.md", reference())


if __name__ == "__main__":
    main()
