"""Inputs at the edges of several parts: look-alike letters, nested Parquet, file-name patterns."""

from __future__ import annotations

import os
import zipfile
from typing import TYPE_CHECKING

import duckdb
from hostile_case import Case

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

ALONE = '\n[captures]\nframe_time_column = "ms"\nunit = "ms"\npattern = "{}"\n'
PATTERN = "{session}_{workload}_{resolution}_{level}_{pass}.csv"

CELLS = {
    "letters of another script that look the same": (
        "runs",
        "rig",
        "b\u0435nch",
        "pattern_mismatch",
    ),
    "digits of full width": ("runs", "average_fps", "\uff11\uff14\uff11", "type_spelling"),
    "an integer of 400 digits": ("runs", "pass", "9" * 400, "out_of_bounds"),
    "an integer beyond 64 bits": ("runs", "pass", str(2**63), "out_of_bounds"),
    "a number of 300 zeros": ("runs", "average_fps", "0" * 300 + "141.3", "type_spelling"),
    "a long dash for a minus": ("runs", "average_fps", "\u2212141.3", "type_spelling"),
    "a resolution with a multiplication sign": (
        "runs",
        "resolution",
        "1920\u00d71080",
        "pattern_mismatch",
    ),
    "a date before year one": ("sessions", "started_on", "0000-01-01", "type_spelling"),
}
TOML = {
    "one key twice": ('set = "other"\n', "toml_error"),
    "one part twice": ("[set]\n", "toml_error"),
    "a date for a name": ("supersedes = 2026-10-05\n", "number_in_version_column"),
    "a thousand nested parts": ("[" + ".".join("a" * 1000) + "]\n", "unknown_key"),
    "an integer of 5000 digits": ("notes = " + "9" * 5000 + "\n", "toml_error"),
}
PATTERNS = {
    "signs of regular expressions": "(.*)+{workload}_{resolution}_{level}_{pass}[",
    "no end of parts": "{workload}" * 200,
    "a part without a name": "{}_{workload}_{resolution}_{level}_{pass}",
    "braces in braces": "{{workload}}_{resolution}_{level}_{pass}",
    "out of the set": "../{workload}_{resolution}_{level}_{pass}.csv",
}
COLUMNS = {
    "a list": ("[1.5, 2.5]", "type_spelling"),
    "a structure": ("{'a': 1.5}", "column_kind"),
    "bytes": ("'141'::BLOB", "column_kind"),
    "a map": ("MAP {'a': 1}", "column_kind"),
    "a span of time": ("INTERVAL 3 DAY", "column_kind"),
    "not a number": ("'nan'::DOUBLE", "type_spelling"),
}


def as_parquet(expression: str) -> Callable[[Path], None]:
    """Write the runs as Parquet with one column of another kind."""

    def after(folder: Path) -> None:
        rows = f"SELECT * REPLACE ({expression} AS average_fps) FROM read_csv('{folder}/runs.csv'"
        with duckdb.connect() as con:
            con.execute(
                f"COPY ({rows}, all_varchar=true)) TO '{folder}/runs.parquet' (FORMAT parquet)"
            )
        (folder / "runs.csv").unlink()

    return after


def alone(folder: Path) -> None:
    (folder / "runs.csv").unlink()


def other_local_name(path: Path, held: dict[str, bytes]) -> None:
    """Write an archive whose directory calls a file otherwise than the file itself does."""
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in held.items():
            archive.writestr(name, data)
    path.write_bytes(path.read_bytes().replace(b"runs.csv", b"evil.csv", 1))


def behind_a_program(path: Path, held: dict[str, bytes]) -> None:
    """Write an archive that has a program in front of it, as self-extracting ones do."""
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in held.items():
            archive.writestr(name, data)
    path.write_bytes(b"MZ" + b"\x90" * 4096 + path.read_bytes())


def hard_link(folder: Path) -> None:
    os.link(folder / "runs.csv", folder / "notes.txt")


def cases() -> Iterator[Case]:
    for name, (table, column, value, rule) in CELLS.items():
        yield Case(f"more: {name}", rule, cell=(table, column, value))
    for name, (text, rule) in TOML.items():
        yield Case(f"more: toml with {name}", rule, manifest=text)
    for name, pattern in PATTERNS.items():
        yield Case(
            f"more: pattern with {name}",
            "pattern_wrong",
            manifest=ALONE.format(pattern),
            after=alone,
        )
    yield Case(
        "more: pattern and no captures",
        "pattern_wrong",
        manifest=ALONE.format(PATTERN),
        after=alone,
    )
    for name, (expression, rule) in COLUMNS.items():
        yield Case(f"more: parquet with {name}", rule, after=as_parquet(expression))
    yield Case("more: zip with another name inside", "archive_damaged", archive=other_local_name)
    yield Case("more: zip behind a program", None, archive=behind_a_program)
    yield Case("more: a hard link is a file like others", None, after=hard_link)
    yield Case(
        "more: a log with an address",
        "personal_data_in_file",
        files={"notes.txt": b"ask anna@example.org\n"},
    )
