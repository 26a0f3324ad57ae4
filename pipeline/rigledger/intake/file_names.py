"""Runs told by the names of their captures, for a set that has no runs table.

A pattern names the parts of a file name in braces, ``{workload}_{resolution}_{level}_{pass}.csv``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from rigledger.errors import RigledgerError, near_names
from rigledger.intake.text import excerpt, printable

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from rigledger.findings import Finding
    from rigledger.intake.log import FindingLog
    from rigledger.intake.manifest import Manifest

PARTS = ("workload", "resolution", "level", "pass", "rig", "session", "role", "run")
NEEDED = ("workload", "resolution", "level", "pass")
FROM_NAMES = "runs (from the names of captures)"
"""What the runs table is called while findings don't yet name the captures."""

_FREE = "[A-Za-z0-9-]+"
# These have a form of their own, so that no more than a hyphen need part them from a neighbour.
_STRICT = {"resolution": "[0-9]+x[0-9]+", "pass": "[0-9]+"}
_SIGN = re.compile("[^A-Za-z0-9-]")
# Kinds of files that a set has for no other reason than that they are captures.
_CAPTURES = (".csv", ".tsv", ".log", ".parquet", ".gz", ".zst")
_KEY = ("rig", "session", "workload", "resolution", "level", "pass", "role", "run")


class PatternError(RigledgerError, ValueError):
    """A file-name pattern that can't be used."""

    code = "pattern"


@dataclass(frozen=True, slots=True)
class NamedRuns:
    """Runs as the names of captures tell them.

    Attributes:
        names: The captures, in the order of the rows.
        rows: Columns of runs, as text.
    """

    names: tuple[str, ...]
    rows: list[dict[str, str]]


def compiled_pattern(pattern: str) -> re.Pattern[str]:
    """Compile a file-name pattern; a part in braces takes letters, digits and hyphens.

    Between hyphens, the parts for resolution and pass take ``1920x1080`` and digits only.

    Raises:
        PatternError: A part is unknown, named twice, a needed one is missing, or two parts stand
            so that nobody can say where one ends and the next starts.
    """
    pieces = re.split(r"\{(.*?)\}", pattern)
    names = pieces[1::2]
    for name in names:
        if name not in PARTS or names.count(name) > 1:
            found = f"no part {{{name}}}" if name not in PARTS else f"{{{name}}} stands there twice"
            raise _error(pattern, found, near_names(name, PARTS))
    for name in NEEDED:
        if name not in names:
            raise _error(pattern, f"the part {{{name}}} is missing", None)
    _refuse_run_together(pattern, pieces)
    made = (
        f"(?P<{piece}>{_held_by(pieces, place)})" if place % 2 else re.escape(piece)
        for place, piece in enumerate(pieces)
    )
    return re.compile("".join(made), re.ASCII)


def _held_by(pieces: Sequence[str], place: int) -> str:
    """Say what a part takes: anything between clear signs, else its own form."""
    before, after = pieces[place - 1], pieces[place + 1]
    clear = (place == 1 or _SIGN.search(before)) and (
        place == len(pieces) - 2 or _SIGN.search(after)
    )
    return _FREE if clear else _STRICT.get(pieces[place], _FREE)


def _refuse_run_together(pattern: str, pieces: Sequence[str]) -> None:
    """Refuse parts with no sign between them that can't be in a part itself.

    Such names could be read in several ways, and in a time that grows with a power of the length.
    """
    for place in range(2, len(pieces) - 1, 2):
        before, between, after = pieces[place - 1 : place + 2]
        free = before not in _STRICT and after not in _STRICT
        if not between or (free and not _SIGN.search(between)):
            step = f"put a sign such as _ between {{{before}}} and {{{after}}}"
            raise _error(pattern, f"{{{before}}} and {{{after}}} run together", step)


def _error(pattern: str, message: str, step: str | None) -> PatternError:
    return PatternError(f"pattern: {message}", column="pattern", value=pattern, next_step=step)


def named_runs(
    files: Iterable[str],
    manifest: Manifest,
    only: Mapping[str, str],
    log: FindingLog,
) -> NamedRuns | None:
    """Read the runs from the names of a set's files.

    A pattern without a ``/`` is held against the name alone, whatever folder the file is in. What
    the pattern doesn't name is taken from `only`; runs are numbered in the order of the names.

    Args:
        files: The set's files as the gate lists them, without its tables.
        manifest: Has the pattern.
        only: The rig and session of the set where it has one alone.
        log: Takes a finding for a pattern that can't be used, for names that don't fit it and for
            two files that stand for one run.

    Returns:
        The runs; None where the pattern can't be used.
    """
    pattern = manifest.captures["pattern"]
    try:
        compiled = compiled_pattern(pattern)
    except PatternError as error:
        _say(manifest, log, error.message.removeprefix("pattern: "), error.next_step)
        return None
    parts = _matched(sorted(files), pattern, compiled, manifest, log)
    given = {*manifest.all_runs, *compiled.groupindex}
    lacking = [name for name in ("rig", "session") if name not in given and name not in only]
    if not parts or lacking:
        if lacking:
            text = f"the set has several of the kind {lacking[0]}, and the pattern names none"
            _say(manifest, log, text, f"add {{{lacking[0]}}} to the pattern")
        return None
    usual = {name: value for name, value in only.items() if name not in given}
    if "role" not in given:
        usual["role"] = "measured"
    return _numbered({name: usual | held for name, held in parts.items()}, given, log)


def _matched(
    files: Sequence[str],
    pattern: str,
    compiled: re.Pattern[str],
    manifest: Manifest,
    log: FindingLog,
) -> dict[str, dict[str, str]]:
    whole = "/" in pattern
    found = {
        name: compiled.fullmatch(name if whole else PurePosixPath(name).name) for name in files
    }
    parts = {name: match.groupdict() for name, match in found.items() if match}
    if not parts:
        some = ", ".join(printable(name) for name in files[:3])
        step = f"files there are, for example, {some}" if some else "the set has no captures"
        _say(manifest, log, "it fits no file of the set", step)
        return {}
    for name, match in found.items():
        if match is None and name.lower().endswith(_CAPTURES):
            log.add("capture_name", f"it is not made like {excerpt(pattern)}", file=printable(name))
    return parts


def _numbered(
    parts: Mapping[str, Mapping[str, str]], given: set[str], log: FindingLog
) -> NamedRuns:
    """Give each run its number in its session; of two files for one run the first one counts."""
    first: dict[tuple[str | None, ...], str] = {}
    counts: dict[tuple[str | None, str | None], int] = {}
    rows: dict[str, dict[str, str]] = {}
    for name, held in parts.items():
        row = dict(held) | {"pass": held["pass"].lstrip("0") or "0", "capture_file": name}
        key = tuple(row.get(column) for column in _KEY)
        if key in first:
            text = f"it stands for the same run as {printable(first[key])}"
            log.add("capture_name_twice", text, file=printable(name))
            continue
        first[key] = name
        session = (row.get("rig"), row.get("session"))
        counts[session] = counts.get(session, 0) + 1
        if "run" not in given:
            row["run"] = f"{counts[session]:03}"
        rows[name] = row
    return NamedRuns(tuple(rows), list(rows.values()))


def _say(manifest: Manifest, log: FindingLog, reason: str, step: str | None) -> None:
    place = "captures.pattern"
    log.add(
        "pattern_wrong",
        reason,
        file=manifest.file,
        row=manifest.lines.get(place),
        column=place,
        value=excerpt(manifest.captures["pattern"]),
        next_step=step or None,
    )


def at_captures(findings: Iterable[Finding], names: Sequence[str]) -> list[Finding]:
    """Let findings about a run told by a file's name point at the file: there is no row."""
    return [
        replace(finding, file=printable(names[finding.row - 1]), row=None)
        if finding.file == FROM_NAMES and finding.row is not None
        else finding
        for finding in findings
    ]
