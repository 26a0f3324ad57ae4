"""One hostile set: the clean one with a cell or bytes replaced, or an archive in its place."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

Change = "Callable[[bytes], bytes]"


@dataclass
class Case:
    """A case; ``rule`` is the finding that must come, None where the set is fine after all.

    ``cell`` is a table, a column and what stands in one of its cells.
    """

    name: str
    rule: str | None
    files: dict[str, bytes | None] = field(default_factory=dict)
    change: tuple[str, Callable[[bytes], bytes]] | None = None
    manifest: str = ""
    maker: Callable[[Any], Any] | None = None
    archive: Callable[[Path, dict[str, bytes]], None] | None = None
    book: Callable[[Path, Any], None] | None = None
    after: Callable[[Path], None] | None = None
    cell: tuple[str, str, str] | None = None

    def company(self) -> tuple[str | None, ...]:
        """Give what cases have in common that share a set, each with its cell in a row of its own.

        All of them spoil one column of the runs, which are many, by one rule: no cell is spared
        what it alone would be put to.
        """
        if self.cell is None or self.rule is None or self.files:
            return (self.name,)
        if self.cell[0] != "runs" or "\n" in self.cell[2]:  # which would move the rows behind it
            return (self.name,)
        return (*self.cell[:2], self.rule, self.manifest)

    def build(self, folder: Path, clean: Any) -> Path:  # noqa: ANN401 - the clean set's module
        made = clean.SetMaker(folder)
        made.manifest += self.manifest
        if self.cell:
            put_cell(made, self.cell, 0)
        if self.maker:
            self.maker(made)
        if self.book:
            path = folder.with_suffix(".xlsx")
            self.book(path, made)
            return path
        made.write()
        self._replace(folder)
        if self.archive:
            held = {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*.*")}
            path = folder.with_suffix(".zip")
            self.archive(path, held)
            return path
        if self.after:
            self.after(folder)
        return folder

    def _replace(self, folder: Path) -> None:
        for name, data in self.files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if data is None:
                path.unlink()
            else:
                path.write_bytes(data)
        if self.change:
            path = folder / self.change[0]
            path.write_bytes(self.change[1](path.read_bytes()))


def put_cell(made: Any, cell: tuple[str, str, str], place: int) -> None:  # noqa: ANN401
    """Put a value into a cell of the clean set; the column is added where it isn't there."""
    table, column, value = cell
    rows = getattr(made, table)
    for row in rows:
        row.setdefault(column, "")
    rows[place][column] = value


def build_together(cases: list[Case], folder: Path, clean: Any) -> Path:  # noqa: ANN401
    """Build one set of several cases, the cell of each in the row of its place."""
    made = clean.SetMaker(folder)
    made.manifest += cases[0].manifest
    for place, case in enumerate(cases):
        assert case.cell
        put_cell(made, case.cell, place)
    made.write()
    return folder


def break_name(data: bytearray) -> None:
    """Say of the first entry of an archive that its name is UTF-8, and make it something else."""
    entry = data.index(b"PK\x01\x02")
    data[entry + 8 : entry + 10] = (0x0800).to_bytes(2, "little")
    data[entry + 46] = 0xD5
