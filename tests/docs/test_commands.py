"""The reference of the commands is what the commands say, and they leave nothing unsaid."""

from __future__ import annotations

from pathlib import Path

from rigledger.commands.reference import commands, reference

PAGE = Path(__file__).resolve().parents[2] / "pipeline" / "docs" / "commands.md"


def test_the_reference_is_what_the_commands_say() -> None:
    """Write it anew with ``python -m rigledger.commands.reference``."""
    assert PAGE.read_text(encoding="utf-8") == reference()


def test_every_command_argument_and_option_has_a_sentence() -> None:
    held = commands()
    without = [
        f"{name} {parameter.name}"
        for name, command in held.items()
        for parameter in command.params
        if not (parameter.help or "").rstrip().endswith((".", ")"))
    ]
    silent = [name for name, command in held.items() if not (command.help or "").strip()]
    assert (without, silent) == ([], [])
