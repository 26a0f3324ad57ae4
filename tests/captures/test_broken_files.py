from __future__ import annotations

import gzip
from typing import TYPE_CHECKING

import pyarrow as pa
import pytest

from rigledger.captures import batch as batch_module
from rigledger.captures import packed as packed_module
from rigledger.captures.batch import read_captures
from rigledger.captures.source import CaptureSource

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import duckdb

    from rigledger.captures.scans import Scan

MS = CaptureSource("t", 6)
LINES = b"t\n" + b"".join(b"%d.%d\n" % (8 + n % 3, n % 7) for n in range(5_000))


def problems(
    con: duckdb.DuckDBPyConnection, paths: Sequence[Path]
) -> dict[str, list[tuple[str, str]]]:
    found = read_captures(con, paths, MS, "f")
    return {
        path.name: [(one.rule, one.reason) for one in found[path.as_posix()].problems]
        for path in paths
    }


@pytest.mark.parametrize("arrow", [True, False], ids=["curator's install", "tester's install"])
def test_a_file_that_is_cut_short_or_damaged_is_named_and_the_others_are_read(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, arrow: bool
) -> None:
    monkeypatch.setattr(batch_module, "LEAST_BYTES", 0 if arrow else 10**12)
    zipped = gzip.compress(LINES)
    damaged = zipped[: len(zipped) // 2] + bytes(40) + zipped[len(zipped) // 2 + 40 :]
    zstandard = pa.compress(LINES, codec="zstd", asbytes=True)
    held = {
        "a.csv.gz": zipped,
        "b.csv.gz": zipped[: len(zipped) // 2],
        "c.csv.gz": damaged,
        "d.csv.zst": zstandard,
        "e.csv.zst": zstandard[: len(zstandard) // 2],
        "f.parquet": b"PAR1 and no more",
        "g.csv": LINES,
    }
    for name, data in held.items():
        (tmp_path / name).write_bytes(data)
    found = problems(con, [tmp_path / name for name in held])
    rules = {name: [rule for rule, _ in one] for name, one in found.items()}
    broken = {"b.csv.gz", "c.csv.gz", "e.csv.zst", "f.parquet"}
    assert rules == {name: ["capture_unreadable"] if name in broken else [] for name in held}
    assert found["b.csv.gz"][0][1] == "the file can't be read: it is packed, and cut short"
    assert found["e.csv.zst"][0][1] == "the file can't be read: Truncated compressed stream"
    counts = con.execute("select count(*) from f group by place").fetchall()
    assert counts == [(5_000,)] * 3


def test_zstandard_says_what_is_missing_where_it_can_not_be_unpacked(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_: Path) -> None:
        raise OSError(packed_module.NO_ZSTANDARD)

    monkeypatch.setattr(packed_module, "_open_zstandard", refuse)
    path = tmp_path / "a.csv.zst"
    path.write_bytes(pa.compress(LINES, codec="zstd", asbytes=True))
    reason = (
        "the file can't be read: this install can't unpack Zstandard: install rigledger[curator], "
        "or pack with gzip"
    )
    assert problems(con, [path]) == {"a.csv.zst": [("capture_unreadable", reason)]}


@pytest.mark.parametrize("name", ["a.csv", "a.csv.gz", "a.parquet"])
def test_a_file_that_vanishes_while_the_set_is_read_is_named(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    going, staying = tmp_path / name, tmp_path / "b.csv"
    staying.write_bytes(LINES)
    going.write_bytes(gzip.compress(LINES) if name.endswith("gz") else LINES)
    if name.endswith("parquet"):
        con.execute(f"copy (select 8.1 + i % 3 as t from range(9) r (i)) to '{going.as_posix()}'")
    fill = batch_module.fill

    def vanish(con: duckdb.DuckDBPyConnection, scan: Scan, first: int, table: str) -> None:
        going.unlink(missing_ok=True)
        fill(con, scan, first, table)

    monkeypatch.setattr(batch_module, "fill", vanish)
    reason = "the file was there when the set was listed, and is gone"
    expected = {name: [("capture_missing", reason)], "b.csv": []}
    assert problems(con, [going, staying]) == expected
