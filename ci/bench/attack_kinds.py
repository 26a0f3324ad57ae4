"""Ways to alter a release: bytes, files, rows with every hash repaired, signatures, forgeries."""

from __future__ import annotations

import csv
import io
import json
import shutil
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import duckdb

from rigledger.contract import load_contract
from rigledger.database import connect
from rigledger.files import sha256_of, sha256sums
from rigledger.release.describe import describe, json_text
from rigledger.release.documents import documents
from rigledger.release.folder import NOT_SUMMED
from rigledger.release.integrity import read_descriptor
from rigledger.release.meta import meta_of
from rigledger.release.reload import reload_tables, tables_of
from rigledger.release.sign import sign_folder
from rigledger.release.view import ReleaseView
from rigledger.release.write import put, stated_files
from rigledger.signing import UNSIGNED
from rigledger.study.design import read_design
from rigledger.tabular import count_rows

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from attack_world import World

Rows = list[dict[str, str]]


@dataclass(frozen=True, slots=True)
class Attack:
    """One way to alter a release.

    Attributes:
        name: What is done, in words.
        alter: Does it to a copy of the authors' release 1.1.0.
        names: File that the recheck must name; None where any will do.
        given: What the reader must know from elsewhere for it to be caught: ``key``,
            ``fingerprint``, ``register``, ``deep``, ``study``, ``previous``. Empty: nothing.
        by_hashes: Whether comparing hashes is enough.
    """

    name: str
    alter: Callable[[Path, World], None]
    names: str | None = None
    given: frozenset[str] = field(default_factory=frozenset)
    by_hashes: bool = False


def repair(folder: Path) -> None:
    """Make every hash fit again, as whoever hides an alteration would; the signature goes."""
    path = folder / "datapackage.json"
    descriptor = json.loads(path.read_text(encoding="utf-8"))
    for held in descriptor["resources"]:
        file = folder / held["path"]
        held["hash"], held["bytes"] = f"sha256:{sha256_of(file)}", file.stat().st_size
    path.write_bytes((json.dumps(descriptor, indent=2, ensure_ascii=False) + "\n").encode())
    (folder / "SHA256SUMS").write_bytes(sha256sums(folder, NOT_SUMMED).encode())
    for name in UNSIGNED - {"SHA256SUMS"}:
        (folder / name).unlink(missing_ok=True)


def flipped(file: str) -> Attack:
    """Flip one bit in the middle of a file."""

    def alter(folder: Path, _: World) -> None:
        path = first(folder, file)
        data = bytearray(path.read_bytes())
        data[len(data) // 2] ^= 1
        path.write_bytes(bytes(data))

    return Attack(f"one bit flipped in {file}", alter, None, by_hashes=file != "SHA256SUMS.sig")


def first(folder: Path, pattern: str) -> Path:
    """Give the first file of a pattern."""
    return min(folder.glob(pattern))


def replaced(file: str, was: str, becomes: str, **more: object) -> Attack:
    """Replace text in a file, then repair every hash."""

    def alter(folder: Path, _: World) -> None:
        path = folder / file
        text = path.read_bytes().decode("utf-8")
        if was not in text:
            raise LookupError(f"{file} has no {was!r}")
        path.write_bytes(text.replace(was, becomes, 1).encode("utf-8"))
        repair(folder)

    return Attack(f"{file} says {becomes!r}, hashes repaired", alter, file, **more)  # type: ignore[arg-type]


def texts_again(folder: Path) -> None:
    """Make every text, the page and all hashes anew from edited tables, as a skilled forger would.

    The program's own functions are used; claims are left as they are.
    """
    contract = load_contract()
    descriptor = read_descriptor(folder)
    with connect() as con:
        published = tables_of(folder, descriptor, contract)
        reload_tables(con, folder, contract, published)
        suite, results = (
            json.loads((folder / f"quality/{name}.json").read_text(encoding="utf-8"))
            for name in ("expectations", "results")
        )
        results["rows"] = count_rows(con, [held.table.name for held in published])
        design = read_design(folder / "study.toml", contract)
        meta = meta_of(descriptor)
        view = ReleaseView(con, design, contract, meta, published, suite, results)
        for path, text in stated_files(view, None).items():
            put(folder, path, text)
        descriptor = describe(folder, view)
        put(folder, "datapackage.json", json_text(descriptor))
        sha256 = sha256_of(folder / "datapackage.json")
        for path, text in documents(view, descriptor, sha256).items():
            put(folder, path, text)
    repair(folder)


def remade_texts(name: str, change: Callable[[Path], None], names: str, *given: str) -> Attack:
    """Edit something, then make all texts and hashes anew."""

    def alter(folder: Path, _: World) -> None:
        change(folder)
        texts_again(folder)

    return Attack(f"{name}, texts and hashes made anew", alter, names, frozenset(given))


def edited(
    name: str, change: dict[str, Callable[[Rows], Rows]], names: str | None = None, **more: object
) -> Attack:
    """Edit rows of tables, CSV and Parquet alike, then repair every hash."""

    def alter(folder: Path, _: World) -> None:
        for file, edit in change.items():
            edit_rows(folder / file, edit)
        repair(folder)

    return Attack(f"{name}, hashes repaired", alter, names, **more)  # type: ignore[arg-type]


def edit_rows(path: Path, edit: Callable[[Rows], Rows], *, csv_too: bool = True) -> None:
    """Edit a CSV file and its Parquet copy alike."""
    text = path.read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(edit(rows))
    path.write_bytes(out.getvalue().encode("utf-8"))
    copy = path.with_suffix(".parquet")
    if copy.exists():
        with duckdb.connect() as con:
            con.execute(f"CREATE TABLE t AS FROM '{copy}' LIMIT 0")
            con.execute(f"INSERT INTO t FROM read_csv('{path}', all_varchar = true)")
            con.execute(f"COPY t TO '{copy}' (FORMAT parquet, COMPRESSION zstd)")
    if not csv_too:
        path.write_text(text, encoding="utf-8", newline="\n")


def cell(row: int, column: str, value: str) -> Callable[[Rows], Rows]:
    """Set one cell."""

    def change(rows: Rows) -> Rows:
        rows[row][column] = value
        return rows

    return change


def without(column: str, values: tuple[str, ...]) -> Callable[[Rows], Rows]:
    """Leave out the rows that hold one of some values."""
    return lambda rows: [row for row in rows if row[column] not in values]


def swapped(column: str, one: str, other: str) -> Callable[[Rows], Rows]:
    """Exchange two values wherever they stand in a column."""
    turned = {one: other, other: one}

    def change(rows: Rows) -> Rows:
        for row in rows:
            row[column] = turned.get(row[column], row[column])
        return sorted(rows, key=lambda row: list(row.values()))

    return change


def parquet_only(folder: Path, _: World) -> None:
    """Alter the Parquet copy and leave the CSV alone."""
    edit_rows(folder / "data" / "runs.csv", cell(0, "title_build", "1.5"), csv_too=False)
    repair(folder)


def other_capture(folder: Path, _: World) -> None:
    """Alter the frame times of a capture under its old name."""
    path = first(folder, "captures/*.parquet")
    with duckdb.connect() as con:
        con.execute(f"CREATE TABLE t AS FROM '{path}'")
        con.execute("UPDATE t SET frame_ns = frame_ns + 1000 WHERE rowid = 0")
        con.execute(f"COPY t TO '{path}' (FORMAT parquet)")
    repair(folder)


def linked(folder: Path, world: World) -> None:
    """Put a link in a file's place that leads out of the release."""
    (folder / "LICENSE").unlink()
    (folder / "LICENSE").symlink_to(world.second / "LICENSE")


def exchanged(folder: Path, _: World) -> None:
    """Exchange two files."""
    one, other = folder / "data" / "rigs.csv", folder / "data" / "cards.csv"
    kept = one.read_bytes()
    one.write_bytes(other.read_bytes())
    other.write_bytes(kept)


def hidden_behind_a_version(folder: Path, _: World) -> None:
    """Edit a value and claim another version of the database, to have it excused."""
    edit_rows(folder / "derived" / "comparisons.csv", cell(0, "change_pct", "-1.5"))
    path = folder / "datapackage.json"
    text = path.read_text(encoding="utf-8")
    held = json.loads(text)["rigledger"]["made_with"]["duckdb"]
    path.write_text(text.replace(f'"duckdb": "{held}"', '"duckdb": "2.9.9"'), encoding="utf-8")
    repair(folder)


def unsigned(folder: Path, _: World) -> None:
    """Take the signature away."""
    for name in UNSIGNED - {"SHA256SUMS"}:
        (folder / name).unlink()


def signed_by_a_forger(folder: Path, world: World) -> None:
    """Sign the unaltered release with another key, which is laid beside it."""
    unsigned(folder, world)
    sign_folder(folder, world.forger)


def signature_of_another(folder: Path, world: World) -> None:
    """Take over the signature of the release before."""
    shutil.copy(world.first / "SHA256SUMS.sig", folder)


def reordered(folder: Path, _: World) -> None:
    """Order the list of hashes otherwise, over unaltered files."""
    path = folder / "SHA256SUMS"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join(reversed(lines)), encoding="utf-8", newline="\n")
    for name in UNSIGNED - {"SHA256SUMS"}:
        (folder / name).unlink()


def _instead(folder: Path, other: Path) -> None:
    shutil.rmtree(folder)
    shutil.copytree(other, folder)


def rolled_back(folder: Path, world: World) -> None:
    """Give out the authors' own earlier release as the newest."""
    _instead(folder, world.first)


def remade(folder: Path, world: World) -> None:
    """Leave a whole set out and make everything again with the program."""
    _instead(folder, world.forged)


def remade_and_signed(folder: Path, world: World) -> None:
    """The same, signed with the forger's key."""
    _instead(folder, world.forged)
    sign_folder(folder, world.forger)
