"""result-set.toml: what a set says about itself and its files, as text."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from rigledger.errors import near_names
from rigledger.intake.text import excerpt, plain_text

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.contract.model import Field, Table
    from rigledger.intake.log import FindingLog

MANIFEST = "result-set.toml"
_PARTS = (
    "set", "same_for_all_runs", "same_for_workload", "same_for_all_sessions", "files", "units",
    "captures", "platforms", "cards",
)  # fmt: skip
_FILES = {
    "delimiter": (",", ";", "\t", "|"),
    "decimal": (".", ","),
    "encoding": (
        "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1", "windows-1252",
    ),
}  # fmt: skip
_CAPTURES = ("frame_time_column", "timestamp_column", "unit", "delimiter", "decimal", "pattern")
_TYPOGRAPHIC = "\u201c\u201d\u201e\u2018\u2019\u00ab\u00bb"
_STRAIGHT = 'Write straight quotes ("): this line has typographic ones, which a text program makes.'
_AT_LINE = re.compile(r"\(at (?:line (\d+), column \d+|end of document)\)")


@dataclass(frozen=True, slots=True)
class Manifest:
    """What result-set.toml says, as text.

    Attributes:
        file: Name of the file or workbook it came from.
        set: Columns of the table ``set``.
        all_runs: Columns of runs that never vary.
        by_workload: Workload to columns of runs that don't vary within it.
        all_sessions: Columns of sessions that never vary.
        files: delimiter, decimal and encoding where files aren't plain.
        units: Handed-in column to the unit its values are in.
        captures: How to read the captures.
        proposed: Rows of ``platforms`` and ``cards``.
        lines: Line of each ``part.key``.
    """

    file: str = MANIFEST
    set: dict[str, str] = field(default_factory=dict)
    all_runs: dict[str, str] = field(default_factory=dict)
    by_workload: dict[str, dict[str, str]] = field(default_factory=dict)
    all_sessions: dict[str, str] = field(default_factory=dict)
    files: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    captures: dict[str, str] = field(default_factory=dict)
    proposed: dict[str, list[dict[str, str]]] = field(default_factory=dict)
    lines: dict[str, int] = field(default_factory=dict)

    @property
    def delimiter(self) -> str:
        """Delimiter of the set's CSV files."""
        return self.files.get("delimiter", ",")

    @property
    def decimal(self) -> str:
        """Decimal mark of the set's CSV files."""
        return self.files.get("decimal", ".")

    @property
    def encoding(self) -> str:
        """Encoding of the set's CSV files."""
        return self.files.get("encoding", "utf-8")


def read_manifest(path: Path, tables: dict[str, Table], log: FindingLog) -> Manifest | None:
    """Read result-set.toml.

    Args:
        path: The file.
        tables: The wide handed-in tables by name; they say which keys are columns.
        log: Takes the findings.

    Returns:
        The manifest; None where the file can't be read as TOML.
    """
    text = _decoded(path, log)
    held = None if text is None else _parsed(text, path.name, log)
    if text is None or held is None:
        return None
    return _Reader(path.name, tables, log, _lines(text)).manifest(held)


def _decoded(path: Path, log: FindingLog) -> str | None:
    data = path.read_bytes()
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        log.add("toml_error", "the file is not UTF-8", file=path.name, row=row)
        return None
    if "\x00" in text:
        log.add("toml_error", "the file holds NUL bytes", file=path.name)
        return None
    return text


def _parsed(text: str, file: str, log: FindingLog) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        at = _AT_LINE.search(str(error))
        end = text.count("\n") + 1
        row = int(at[1]) if at and at[1] else end
        line = text.splitlines()[row - 1 : row]
        step = _STRAIGHT if any(mark in part for part in line for mark in _TYPOGRAPHIC) else None
        reason = f"the file is no valid TOML: {error}"
        log.add("toml_error", reason, file=file, row=row, next_step=step)
    except RecursionError:
        log.add("toml_error", "the file nests lists or tables too deep", file=file)
    except ValueError as error:
        log.add("toml_error", f"a value of the file can't be read: {error}", file=file)
    return None


def _lines(text: str) -> dict[str, int]:
    """Find the line of each key, so that a finding can point at it."""
    lines: dict[str, int] = {}
    part = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if head := re.match(r"\s*\[+\s*([^\]]+?)\s*\]", line):
            part = head[1].replace('"', "")
            lines.setdefault(part, number)
        elif key := re.match(r"\s*[\"']?([^=\"']+?)[\"']?\s*=", line):
            lines.setdefault(f"{part}.{key[1]}" if part else key[1], number)
    return lines


class _Reader:
    """Turns the parsed TOML into a manifest, with a finding for each key that is not known."""

    def __init__(
        self, file: str, tables: dict[str, Table], log: FindingLog, lines: dict[str, int]
    ) -> None:
        self.file = file
        self.tables = tables
        self.log = log
        self.lines = lines

    def manifest(self, held: dict[str, Any]) -> Manifest:
        for key in held:
            if key not in _PARTS:
                self._unknown(key, key, _PARTS)
        runs, sessions = self.tables["runs"], self.tables["sessions"]
        return Manifest(
            file=self.file,
            set=self._columns(held, "set", self.tables["set"]),
            all_runs=self._columns(held, "same_for_all_runs", runs),
            by_workload=self._by_workload(held, runs),
            all_sessions=self._columns(held, "same_for_all_sessions", sessions),
            files=self._files(held),
            units=self._units(held),
            captures=self._words(held, "captures", _CAPTURES),
            proposed={name: self._proposed(held, name) for name in ("platforms", "cards")},
            lines=self.lines,
        )

    def _part(self, held: dict[str, Any], name: str) -> dict[str, Any]:
        part = held.get(name, {})
        if isinstance(part, dict):
            return part
        self._add("toml_value", f"[{name}] is a part with keys of its own", name, part)
        return {}

    def _columns(
        self, held: dict[str, Any], name: str, table: Table, part: dict[str, Any] | None = None
    ) -> dict[str, str]:
        found: dict[str, str] = {}
        for key, value in (self._part(held, name) if part is None else part).items():
            if key not in table.field_names:
                self._unknown(f"{name}.{key}", key, table.field_names)
                continue
            text = self._text(f"{name}.{key}", value, table.field(key))
            if text is not None:
                found[key] = text
        return found

    def _text(self, place: str, value: object, column: Field) -> str | None:
        text = plain_text(value)
        if text is None:
            self._add("toml_value", "a column has one value, not a list or a part", place, value)
        elif column.type == "string" and not isinstance(value, str | int):
            reason = (
                f"{column.name} is text, and {text} was written without quotes, which may have "
                f"changed it"
            )
            self._add("number_in_version_column", reason, place, text)
        return text

    def _by_workload(self, held: dict[str, Any], runs: Table) -> dict[str, dict[str, str]]:
        found = {}
        for workload, part in self._part(held, "same_for_workload").items():
            place = f"same_for_workload.{workload}"
            if isinstance(part, dict):
                found[workload] = self._columns(held, place, runs, part)
            else:
                reason = "write one part a workload: [same_for_workload.name-of-workload]"
                self._add("toml_value", reason, place, part)
        return found

    def _words(self, held: dict[str, Any], name: str, legal: tuple[str, ...]) -> dict[str, str]:
        found = {}
        for key, value in self._part(held, name).items():
            if key not in legal:
                self._unknown(f"{name}.{key}", key, legal)
            elif not isinstance(value, str):
                self._add("toml_value", "the value is text in quotes", f"{name}.{key}", value)
            else:
                found[key] = value
        return found

    def _files(self, held: dict[str, Any]) -> dict[str, str]:
        found = self._words(held, "files", tuple(_FILES))
        for key, value in list(found.items()):
            words = _FILES[key]
            lowered = value.lower() if key == "encoding" else value
            found[key] = lowered
            if lowered not in words:
                reason = f"{key} is one of " + ", ".join(repr(word) for word in words)
                self._add("toml_value", reason, f"files.{key}", value)
                del found[key]
        return found

    def _units(self, held: dict[str, Any]) -> dict[str, str]:
        columns = tuple(item.name for item in self.tables["runs"].fields if item.unit)
        return self._words(held, "units", columns)

    def _proposed(self, held: dict[str, Any], name: str) -> list[dict[str, str]]:
        rows = held.get(name, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            self._add("toml_value", f"write [[{name}]], one part a row", name, rows)
            return []
        return [self._columns(held, name, self.tables[name], row) for row in rows]

    def _unknown(self, place: str, key: str, legal: tuple[str, ...]) -> None:
        near = near_names(key, legal)
        self.log.add(
            "unknown_key",
            f"{key!r} is no key of {place.rsplit('.', 1)[0] if '.' in place else self.file}",
            file=self.file,
            row=self.lines.get(place),
            column=excerpt(place),
            next_step=near or None,
        )

    def _add(self, rule: str, reason: str, place: str, value: object) -> None:
        shown = excerpt(plain_text(value) or repr(value))
        row = self.lines.get(place)
        self.log.add(rule, reason, file=self.file, row=row, column=excerpt(place), value=shown)
