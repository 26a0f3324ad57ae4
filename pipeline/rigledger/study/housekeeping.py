"""What keeps a study whole: in version control, and after a writer that was stopped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.files import sweep, write_text

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

# Sets are kept as handed in: no system may convert their line ends.
_ATTRIBUTES = ("sets/** -text", "captures/** -text")
_IGNORED = (".lock", ".lock.json", ".*.part")


def keep_bytes(study: StudyFolder) -> None:
    """Tell version control to leave admitted bytes alone, and what never belongs into it."""
    _with_lines(study.root / ".gitattributes", _ATTRIBUTES)
    _with_lines(study.root / ".gitignore", _IGNORED)


def keep_out_of_versions(study: StudyFolder) -> bool:
    """Make the folder of what is kept, which version control passes over.

    Returns:
        Whether it is there; where it can't be made, nothing is kept.
    """
    try:
        if not (study.kept / ".gitignore").is_file():
            write_text(study.kept / ".gitignore", "*\n")
    except OSError:
        return False
    return True


def tidy(study: StudyFolder) -> None:
    """Remove what writers left that were stopped; to be called by the holder of the lock.

    The study's own folder may hold parts of what commands without a lock are writing there, so in
    it only the names of the study's files are looked for.
    """
    for name in (study.decisions.name, study.releases.name, ".gitattributes", ".gitignore"):
        sweep(study.root, name)
    for folder in (study.sets, study.captures, study.derived, study.published, study.kept):
        sweep(folder)


def _with_lines(path: Path, lines: tuple[str, ...]) -> None:
    held = path.read_text(encoding="utf-8") if path.exists() else ""
    missing = [line for line in lines if line not in held.splitlines()]
    if missing:
        start = held if not held or held.endswith("\n") else f"{held}\n"
        write_text(path, start + "".join(f"{line}\n" for line in missing))
