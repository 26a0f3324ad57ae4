"""Small files that keep a study whole in version control."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.files import write_text

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

# Sets are kept as handed in: no system may convert their line ends.
_ATTRIBUTES = ("sets/** -text", "captures/** -text")
_IGNORED = (".lock", ".*.part")


def keep_bytes(study: StudyFolder) -> None:
    """Tell version control to leave admitted bytes alone, and what never belongs into it."""
    _with_lines(study.root / ".gitattributes", _ATTRIBUTES)
    _with_lines(study.root / ".gitignore", _IGNORED)


def _with_lines(path: Path, lines: tuple[str, ...]) -> None:
    held = path.read_text(encoding="utf-8") if path.exists() else ""
    missing = [line for line in lines if line not in held.splitlines()]
    if missing:
        start = held if not held or held.endswith("\n") else f"{held}\n"
        write_text(path, start + "".join(f"{line}\n" for line in missing))
