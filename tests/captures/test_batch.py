from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigledger.captures import scans as scans_module
from rigledger.captures.batch import read_captures
from rigledger.captures.metrics import frame_metrics
from rigledger.captures.read import read_capture
from rigledger.captures.source import CaptureSource
from rigledger.captures.store import CaptureStore, describe, describe_all
from rigledger.contract import load_contract

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

MS = CaptureSource("t", 6)


def written(folder: Path, texts: dict[str, str]) -> list[Path]:
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [folder / name for name in texts]


def kept(con: duckdb.DuckDBPyConnection) -> dict[str, list[int]]:
    frames: dict[str, list[int]] = {}
    rows = con.execute(
        "select capture_file, frame_ns from f join f_files using (place) order by f.rowid"
    ).fetchall()
    for file, frame in rows:
        frames.setdefault(file.rsplit("/", 1)[-1], []).append(frame)
    return frames


def test_good_files_are_read_and_bad_ones_named_whatever_stands_beside_them(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    paths = written(
        tmp_path,
        {
            "a.csv": "t\n1.5\n2.5\n",
            "b.csv": "n,t\n1,3\n",
            "c.csv": "t\n4\n0\n",
            "d.csv": "t\n5,6\n",
            "e.csv": "t\n",
            "g.csv": "other\n1\n",
            "h.csv": "t\n7e0\n",
            "i.csv": "t\n8\n",
        },
    )
    found = read_captures(con, paths, MS, "f")
    assert kept(con) == {
        "a.csv": [1_500_000, 2_500_000],
        "b.csv": [3_000_000],
        "h.csv": [7_000_000],
        "i.csv": [8_000_000],
    }
    rules = {path.name: [p.rule for p in found[path.as_posix()].problems] for path in paths}
    assert rules == {
        "a.csv": [],
        "b.csv": [],
        "c.csv": ["capture_not_positive"],
        "d.csv": ["capture_ragged_row"],
        "e.csv": ["capture_empty"],
        "g.csv": ["capture_column_missing"],
        "h.csv": [],
        "i.csv": [],
    }


CELL = st.sampled_from(["1", "2.5", "0.25", "3.", "7e0", "0", "x", "", "1,2", "40000000000000"])
FILES = st.lists(st.lists(CELL, max_size=5), max_size=6)


@settings(
    settings.get_profile("costly"), suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(files=FILES, clock=st.booleans())
def test_many_files_read_at_once_give_what_each_gives_alone(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, *, files: list[list[str]], clock: bool
) -> None:
    source = CaptureSource("t", 6, timestamps=clock)
    texts = {f"{n}.csv": "\n".join(["t", *cells, ""]) for n, cells in enumerate(files)}
    paths = written(tmp_path, texts)
    together = read_captures(con, paths, source, "f")
    frames, described = kept(con), describe_all(con, "f")
    for path in paths:
        alone = read_capture(con, path, source, "one")
        assert alone == together[path.as_posix()]
        rows = con.execute("select frame_ns from one order by rowid").fetchall()
        assert frames.get(path.name, []) == [row[0] for row in rows]
        if alone.frames:
            assert describe(con, "one") == described[path.as_posix()]
    assert list(together) == [path.as_posix() for path in paths]


def test_the_size_of_a_scan_changes_nothing(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paths = written(tmp_path, {f"{n}.csv": f"t\n{n + 1}\n{n + 2}\n" for n in range(20)})
    whole = (read_captures(con, paths, MS, "f"), kept(con))
    monkeypatch.setattr(scans_module, "BYTES_A_SCAN", 1)
    assert whole == (read_captures(con, paths, MS, "f"), kept(con))
    assert len(whole[1]) == 20


def test_metrics_from_the_table_are_those_from_stored_files(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    falling = {n: [str(400 + n - step) for step in range(399)] for n in range(3)}
    cells = {f"{n}.csv": "\n".join(["t", *held, ""]) for n, held in falling.items()}
    paths = written(tmp_path, cells)
    metrics = tuple(load_contract().metrics.values())
    read_captures(con, paths, MS, "f")
    store = CaptureStore(tmp_path / "store")
    con.execute("create table w (run varchar, capture_file varchar, from_s double, for_s double)")
    con.execute("create table v as from w")
    for path in paths:
        read_capture(con, path, MS, "one")
        file = store.path(store.put(con, "one").capture).as_posix()
        for table, place in (("w", path.as_posix()), ("v", file)):
            con.execute(f"insert into {table} values (?, ?, 0.5, 40)", [path.name, place])
    frame_metrics(con, "w", metrics, frames="f")
    from_table = con.execute("from frame_metrics").fetchall()
    frame_metrics(con, "v", metrics)
    assert from_table == con.execute("from frame_metrics").fetchall()
    assert len(from_table) == 3 * 4


def test_no_files_give_an_empty_table(con: duckdb.DuckDBPyConnection) -> None:
    assert read_captures(con, [], MS, "f") == {}
    assert kept(con) == {}


def test_a_file_that_is_not_there_raises(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        read_captures(con, [tmp_path / "none.csv"], MS, "f")
