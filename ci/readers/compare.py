"""Do readers that know nothing of this project find the same values in every table?

Usage: python ci/readers/compare.py [--without READER] [release ...]

Without a release, the ones that ci/start.py built are read. What each reader finds is held, cell by
cell, against the CSV text as the standard library reads it. Exits 1 on any difference, or when a
reader can't be run.
"""

from __future__ import annotations

import argparse
import math
import sys
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path

# It may be run from anywhere, and by the tests.
HERE = Path(__file__).resolve().parent
if str(HERE) not in sys.path:
    sys.path.append(str(HERE))

from programs import READERS, MissingProgramError, read_by  # noqa: E402
from table_values import Rows, Table, Value, expected  # noqa: E402

BUILD = HERE.parents[1] / "build"
SHOWN = 3
# A workbook that LibreOffice saves keeps 15 digits of a number; the last is its own rounding.
RELATIVE = {"LibreOffice": 1e-14}


@dataclass(frozen=True)
class Compared:
    """A table as one reader found it.

    Attributes:
        table: Name of the table.
        cells: Cells that were compared; names and types of columns where only those are read.
        differences: What differs, each with row, column, what was expected and what was found.
    """

    table: str
    cells: int
    differences: tuple[str, ...]


def compare(reader: str, folder: Path) -> list[Compared]:
    """Let a reader read every table of a release and hold each cell against the file's text.

    Raises:
        MissingProgramError: The reader is not installed.
    """
    return [_compared(table, found, reader) for table, found in read_by(reader, folder)]


def _compared(table: Table, found: Rows, reader: str) -> Compared:
    described = reader == "dplib-py"
    wanted: Rows = [[f.name, f.kind] for f in table.fields] if described else expected(table)
    names = ["name", "type"] if described else [field.name for field in table.fields]
    return Compared(
        table.name,
        len(wanted) * len(names),
        tuple(differences(wanted, found, names, RELATIVE.get(reader, 0.0))),
    )


def differences(wanted: Rows, found: Rows, names: list[str], relative: float = 0.0) -> list[str]:
    """List the cells that differ in value or in type.

    Args:
        wanted: What the file's text says.
        found: What a reader found.
        names: The columns.
        relative: How far apart two numbers may be; at 0 they must be the same double.
    """
    blank: list[None] = [None] * len(names)
    listed = []
    if len(wanted) != len(found):
        listed.append(f"{len(found)} rows instead of {len(wanted)}")
    for number, (one, other) in enumerate(zip_longest(wanted, found, fillvalue=blank), start=1):
        listed += [
            f"row {number}, {name}: {a!r} is read as {b!r}"
            for name, a, b in zip(names, one, other, strict=True)
            if not _same(a, b, relative)
        ]
    return listed


def _same(one: Value, other: Value, relative: float) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=relative, abs_tol=0.0)
    return one == other and type(one) is type(other)


def main() -> int:
    """Compare and print; 1 where something differs or can't be read."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("release", nargs="*", type=Path)
    parser.add_argument("--without", action="append", default=[], choices=list(READERS))
    asked = parser.parse_args()
    releases = asked.release or sorted(
        path.parent for path in BUILD.glob("*/releases/*/datapackage.json")
    )
    if not releases:
        parser.error("no release is in build/: run python3 ci/start.py first")
    readers = [name for name in READERS if name not in asked.without]
    failed = sum(_told(folder.resolve(), readers) for folder in releases)
    print(f"releases: {len(releases)}; readers: {len(readers)}; readings that differ: {failed}")
    return 1 if failed else 0


def _told(folder: Path, readers: list[str]) -> int:
    """Print what the readers found in a release; gives how many readings are not the same."""
    print(f"\n== {folder.name} ==")
    by_reader = {name: _tried(name, folder) for name in readers}
    _matrix(by_reader)
    return sum(_summed(name, held) for name, held in by_reader.items())


def _matrix(by_reader: dict[str, list[Compared]]) -> None:
    """Print a line per table: its cells, and what each reader found."""
    found = {(name, one.table): one for name, held in by_reader.items() for one in held}
    tables = list(dict.fromkeys(table for _, table in found))
    width = max(map(len, tables), default=0)
    print(" " * (width + 9) + "  ".join(by_reader))
    for table in tables:
        cells = max(one.cells for (_, of), one in found.items() if of == table)
        marks = [f"{_mark(found.get((name, table))):<{len(name)}}" for name in by_reader]
        print(f"{table:<{width}} {cells:>7} {'  '.join(marks)}".rstrip())


def _mark(one: Compared | None) -> str:
    if one is None:
        return "-"
    return f"{len(one.differences)} DIFFER" if one.differences else "same"


def _tried(name: str, folder: Path) -> list[Compared]:
    try:
        return compare(name, folder)
    except MissingProgramError as missing:
        print(f"{name}: {missing} is not installed", flush=True)
        return []


def _summed(name: str, held: list[Compared]) -> int:
    """Print a reader's sum and its first differences; gives 1 where it is not clean."""
    cells, wrong = sum(one.cells for one in held), [one for one in held if one.differences]
    what = "columns' names and types" if name == "dplib-py" else "cells"
    to = f", numbers within {RELATIVE[name]:g}" if name in RELATIVE else ""
    print(f"{name}: {len(held) - len(wrong)} of {len(held)} tables the same, {cells} {what}{to}")
    for one in wrong:
        print(*(f"  {one.table}: {text}" for text in one.differences[:SHOWN]), sep="\n")
    return 1 if wrong or not held else 0


if __name__ == "__main__":
    sys.exit(main())
