"""A kit as a folder: result-set.toml with comments, CSV files, a guide, a schema for editors."""

from __future__ import annotations

import csv
import io
import json
import textwrap
from typing import TYPE_CHECKING, Any

import tomli_w

from rigledger.files import folder_beside
from rigledger.study.kit_guide import guide_text

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from rigledger.contract import Contract, Field, Table
    from rigledger.study.kit_model import Kit, KitTable

MANIFEST = "result-set.toml"
SCHEMA = "result-set.schema.json"
_JSON_TYPES = {"integer": "integer", "number": "number", "boolean": "boolean"}


def write_kit_folder(folder: Path, kit: Kit) -> None:
    """Write a kit as a folder, beside and renamed into place.

    Raises:
        FileExistsError: The folder exists; nothing is replaced.
    """
    with folder_beside(folder) as temporary:
        for name, text in kit_files(kit).items():
            (temporary / name).write_text(text, encoding="utf-8", newline="\n")


def kit_files(kit: Kit) -> dict[str, str]:
    """Give the texts of a kit's files by name; the same kit gives the same texts."""
    tables = {"rigs", "sessions", "runs"}
    files = {f"{held.name}.csv": _csv(held) for held in kit.tables if held.name in tables}
    schema = json.dumps(manifest_schema(kit.contract), indent=2, ensure_ascii=False) + "\n"
    return {MANIFEST: manifest_text(kit), **files, "guide.txt": guide_text(kit), SCHEMA: schema}


def _csv(held: KitTable) -> str:
    text = io.StringIO()
    names = [column.name for column in held.columns]
    writer = csv.DictWriter(text, names, lineterminator="\n")
    writer.writeheader()
    writer.writerows(held.rows)
    return text.getvalue()


def manifest_text(kit: Kit) -> str:
    """Give result-set.toml: every key with its meaning, filled in as far as it is known."""
    parts = [
        f"#:schema ./{SCHEMA}",
        _comment(
            "What you hand in, and who you are. Fill in what is empty; a line that starts with # "
            "is left out until you take the # away."
        ),
        "[set]",
        *_set_lines(kit),
        "",
        _comment(
            "Anything that is the same in all runs can be written here once instead of in every "
            "row of runs.csv; what stands in a row wins."
        ),
        "[same_for_all_runs]",
        '# level_check = "status read-out under load"',
        *_further_parts(kit),
    ]
    return "\n".join(parts) + "\n"


def _set_lines(kit: Kit) -> Iterable[str]:
    for column in kit.contract.table("handed_in", "set").fields:
        yield _comment(column.description)
        value = kit.set[column.name]
        if value is None and not column.required:
            yield f"# {_pair(column.name, column.example)}"
        else:
            yield _pair(column.name, "" if value is None else value)


def _further_parts(kit: Kit) -> Iterable[str]:
    yield ""
    yield _comment(
        "The same for one workload: its build need not be typed into every row of runs.csv."
    )
    for workload in dict.fromkeys(run.workload for run in kit.sheet.runs):
        yield f"# [same_for_workload.{workload}]"
        yield '# title_build = "1.0.4"'
    yield ""
    yield _comment(
        "Columns of sessions.csv that never varied, such as the operating system, can stand here."
    )
    yield "[same_for_all_sessions]"
    yield '# os = "desktop-os 11"'
    yield from _layout_lines()
    yield from _proposal_lines(kit)


def _layout_lines() -> Iterable[str]:
    yield ""
    yield _comment(
        "If your spreadsheet saved the CSV files with semicolons or decimal commas, take the # "
        "away from these lines."
    )
    yield "# [files]"
    yield '# delimiter = ";"'
    yield '# decimal = ","'
    yield '# encoding = "windows-1252"'
    yield ""
    yield _comment(
        "If you hand in the frame times of your runs: where they are in the files of your log."
    )
    yield "# [captures]"
    yield '# frame_time_column = "frame_time_ms"'
    yield '# unit = "ms"'


def _proposal_lines(kit: Kit) -> Iterable[str]:
    for held in kit.tables:
        if held.name not in {"platforms", "cards"}:
            continue
        yield ""
        yield _comment(f"The study doesn't list these {held.name} yet: describe them.")
        for row in held.rows:
            yield f"[[{held.name}]]"
            yield from (_described(column, row[column.name]) for column in held.columns)


def _described(column: Field, value: Any) -> str:  # noqa: ANN401 - whatever the field holds
    if value is None and not column.required:
        return f"# {_pair(column.name, column.example)}"
    return _pair(column.name, "" if value is None else value)


def _pair(key: str, value: Any) -> str:  # noqa: ANN401 - whatever TOML can hold
    return tomli_w.dumps({key: value}).rstrip("\n")


def _comment(text: str) -> str:
    lines = textwrap.wrap(text, 96, break_long_words=False, break_on_hyphens=False)
    return "\n".join(f"# {line}" for line in lines)


def manifest_schema(contract: Contract) -> dict[str, Any]:
    """Give a JSON Schema of result-set.toml, so that an editor completes and checks it."""
    wide = {name: contract.wide("handed_in", name) for name in ("runs", "sessions")}
    constants = _properties(wide["runs"])
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A result set of a rigledger study",
        "type": "object",
        "required": ["set"],
        "additionalProperties": False,
        "properties": {
            "set": _object(contract.table("handed_in", "set"), required=True),
            "same_for_all_runs": constants,
            "same_for_workload": {"type": "object", "additionalProperties": constants},
            "same_for_all_sessions": _properties(wide["sessions"]),
            "files": _strings("delimiter", "decimal", "encoding"),
            "units": {"type": "object", "additionalProperties": {"enum": list(contract.units)}},
            "captures": _strings(
                "frame_time_column", "timestamp_column", "unit", "delimiter", "decimal", "pattern"
            ),
            "platforms": _rows(contract.table("handed_in", "platforms")),
            "cards": _rows(contract.table("handed_in", "cards")),
        },
    }


def _rows(table: Table) -> dict[str, Any]:
    return {"type": "array", "items": _object(table, required=True)}


def _properties(table: Table) -> dict[str, Any]:
    return _object(table, required=False)


def _object(table: Table, *, required: bool) -> dict[str, Any]:
    held: dict[str, Any] = {
        "type": "object",
        "additionalProperties": False,
        "properties": {column.name: _value(column) for column in table.fields},
    }
    if required:
        held["required"] = [column.name for column in table.fields if column.required]
    return held


def _value(column: Field) -> dict[str, Any]:
    """Describe one value. Dates may be TOML dates, which editors see as strings."""
    held: dict[str, Any] = {
        "title": column.title,
        "description": column.description,
        "type": _JSON_TYPES.get(column.type, "string"),
    }
    if column.enum:
        held["enum"] = list(column.enum)
    if column.pattern:
        held["pattern"] = f"^(?:{column.pattern})$"
    if column.max_length:
        held["maxLength"] = column.max_length
    if column.type in {"integer", "number"}:
        bounds = {"minimum": column.minimum, "maximum": column.maximum}
        held |= {name: bound for name, bound in bounds.items() if bound is not None}
    return held


def _strings(*names: str) -> dict[str, Any]:
    properties = {name: {"type": "string"} for name in names}
    return {"type": "object", "additionalProperties": False, "properties": properties}
