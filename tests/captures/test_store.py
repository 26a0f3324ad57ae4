from __future__ import annotations

import hashlib
import struct
from typing import TYPE_CHECKING

import duckdb
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigledger.captures import hashes as hashes_module
from rigledger.captures.problems import CaptureError
from rigledger.captures.store import CaptureStore, StoredCapture, describe_all, frames_hash

if TYPE_CHECKING:
    from pathlib import Path


def fill(con: duckdb.DuckDBPyConnection, frames: list[int]) -> None:
    con.execute("create or replace temp table f (frame_ns bigint)")
    con.execute("insert into f select unnest(?::bigint[])", [frames])


def little_endian_hash(frames: list[int]) -> str:
    return hashlib.sha256(struct.pack(f"<{len(frames)}q", *frames)).hexdigest()


@settings(
    settings.get_profile("costly"), suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(frames=st.lists(st.integers(1, 2**63 - 1), min_size=1, max_size=50))
def test_a_capture_is_named_by_its_frames_as_little_endian_integers(
    con: duckdb.DuckDBPyConnection, frames: list[int]
) -> None:
    fill(con, frames)
    assert little_endian_hash(frames) == frames_hash(con, "f")


def test_long_captures_are_hashed_in_order(con: duckdb.DuckDBPyConnection) -> None:
    frames = [(place * 7919) % 104_729 + 1 for place in range(200_000)]
    fill(con, frames)
    assert little_endian_hash(frames) == frames_hash(con, "f")


def test_what_was_kept_comes_back_in_order(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    fill(con, [3, 1, 2])
    store = CaptureStore(tmp_path / "captures")
    stored = store.put(con, "f")
    path = store.path(stored.capture)
    kept = con.execute(f"select frame_ns from '{path.as_posix()}'").fetchall()
    assert StoredCapture(little_endian_hash([3, 1, 2]), 3, 6) == stored
    assert kept == [(3,), (1,), (2,)]
    assert stored == store.verify(con, stored.capture)
    assert [path] == list(store.folder.iterdir())


def test_keeping_the_same_capture_again_changes_nothing(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    fill(con, [3, 1, 2])
    store = CaptureStore(tmp_path)
    path = store.path(store.put(con, "f").capture)
    before = path.stat().st_mtime_ns
    store.put(con, "f")
    assert path.stat().st_mtime_ns == before


def test_a_capture_without_frames_is_refused(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    fill(con, [])
    with pytest.raises(CaptureError, match="without frames"):
        CaptureStore(tmp_path).put(con, "f")
    assert not list(tmp_path.iterdir())


def test_changed_frames_no_longer_fit_their_name(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    fill(con, [3, 1, 2])
    store = CaptureStore(tmp_path)
    stored = store.put(con, "f")
    fill(con, [3, 2, 1])
    store.path(stored.capture).unlink()
    con.execute(f"copy f to '{store.path(stored.capture).as_posix()}'")
    with pytest.raises(CaptureError) as caught:
        store.verify(con, stored.capture)
    assert caught.value.value == little_endian_hash([3, 2, 1])


@pytest.mark.parametrize("at_once", [2, 500])
def test_of_many_captures_each_is_found_sound_or_named_as_by_itself(
    con: duckdb.DuckDBPyConnection,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    at_once: int,
) -> None:
    monkeypatch.setattr("rigledger.captures.store._VERIFIED_AT_ONCE", at_once)
    store = CaptureStore(tmp_path)
    held = []
    for frames in ([5, 4], [3, 1, 2], [7], [9, 9, 8], [6]):
        fill(con, frames)
        held.append(store.put(con, "f"))
    names = [one.capture for one in held]
    assert store.verify_all(con, names) == dict(zip(names, held, strict=True))
    store.path(names[1]).unlink()
    store.path(names[2]).write_bytes(b"no Parquet")
    store.path(names[3]).write_bytes(store.path(names[0]).read_bytes())
    found = store.verify_all(con, names)
    assert {one: found[one] for one in (names[0], names[4])} == {
        names[0]: held[0],
        names[4]: held[4],
    }
    for name in names[1:4]:
        with pytest.raises((CaptureError, duckdb.Error)) as alone:
            store.verify(con, name)
        assert (type(found[name]), str(found[name])) == (type(alone.value), str(alone.value))


def test_a_capture_that_is_gone_is_named(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    store = CaptureStore(tmp_path)
    with pytest.raises(CaptureError) as caught:
        store.verify(con, "0" * 64)
    assert caught.value.file == "0" * 64 + ".parquet"
    assert "0" * 64 not in store


def test_all_captures_of_a_table_are_kept_at_once(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    frames = {"b.csv": [3, 1, 2], "a.csv": [5, 4], "c.csv": [3, 1, 2]}
    con.execute("create temp table many (place bigint, frame_ns bigint)")
    con.execute("create temp table many_files (place bigint, capture_file varchar)")
    for place, (file, held) in enumerate(frames.items()):
        con.execute("insert into many select ?, unnest(?::bigint[])", [place, held])
        con.execute("insert into many_files values (?, ?)", [place, file])
    store = CaptureStore(tmp_path)
    expected = {
        file: StoredCapture(little_endian_hash(held), len(held), sum(held))
        for file, held in frames.items()
    }
    assert expected == store.put_all(con, "many") == describe_all(con, "many")
    for capture in expected.values():
        assert capture == store.verify(con, capture.capture)
    assert len(list(tmp_path.iterdir())) == 2


def test_of_a_folder_only_captures_that_are_missing_are_taken(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    store, made = CaptureStore(tmp_path / "captures"), CaptureStore(tmp_path / "made")
    fill(con, [3, 1, 2])
    here = store.put(con, "f")
    made.path(here.capture).parent.mkdir()
    made.path(here.capture).write_bytes(b"another file of the same name")
    fill(con, [5, 4])
    fresh = made.put(con, "f")
    (made.folder / "note.json").write_text("{}", encoding="utf-8")
    (made.folder / f"{'0' * 64}.parquet").symlink_to(tmp_path)
    store.take(made.folder)
    assert sorted(path.stem for path in store.folder.iterdir()) == sorted(
        [here.capture, fresh.capture]
    )
    for capture in (here, fresh):
        assert capture == store.verify(con, capture.capture)


def test_many_captures_are_hashed_at_once_whatever_their_numbers(
    con: duckdb.DuckDBPyConnection,
) -> None:
    lengths = {7: 70_001, 3: 1, 5: 300_000, 1: 2, -4: 140_000}
    frames = {
        file: [(n * 7919) % 104_729 + file + 9 for n in range(k)] for file, k in lengths.items()
    }
    con.execute("create temp table f (file bigint, frame_ns bigint)")
    for file, held in frames.items():
        con.execute("insert into f select ?, unnest(?::bigint[])", [file, held])
    expected = {file: little_endian_hash(held) for file, held in frames.items()}
    before = con.execute("select current_setting('threads')").fetchone()
    for threads in (1, 4):
        con.execute(f"set threads = {threads}")
        assert hashes_module.frame_hashes(con, "from f") == expected
    con.execute("set threads = ?", before)


def test_no_capture_has_no_hash_and_a_failing_query_is_told(
    con: duckdb.DuckDBPyConnection,
) -> None:
    assert hashes_module.frame_hashes(con, "select 0 as file, 1 as frame_ns where false") == {}
    with pytest.raises((duckdb.Error, OSError)):
        hashes_module.frame_hashes(con, "select 0 as file, error('no') as frame_ns from range(9)")


def test_another_order_of_bytes_makes_no_other_hash(
    con: duckdb.DuckDBPyConnection, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(con, [3, 1, 2**40])
    monkeypatch.setattr("sys.byteorder", "big")
    swapped = [int.from_bytes(n.to_bytes(8, "little"), "big") for n in (3, 1, 2**40)]
    assert little_endian_hash(swapped) == frames_hash(con, "f")
