# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""Packed captures: what they unpack to is bounded, whatever they say of themselves."""

from __future__ import annotations

import gzip
import os

import pyarrow as pa
import pytest

from rigledger.intake import packed as packed_module
from rigledger.intake.gate import inspect
from rigledger.intake.limits import limit
from rigledger.intake.packed import Unpacked, is_packed_capture, unpacked, window_of

FAR = 1 << 40
MAGIC = b"\x28\xb5\x2f\xfd"
# Random letters don't pack; their limit is the size, not the ratio.
NOISE = os.urandom(3 << 20).hex().encode("ascii")


def zstandard(data: bytes) -> bytes:
    return pa.compress(data, codec="zstd", asbytes=True)


@pytest.fixture
def scratch(tmp_path):
    folder = tmp_path / "scratch"
    folder.mkdir()
    return folder


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("a.csv.gz", True),
        ("captures/A.CSV.GZ", True),
        ("a.b.log.zst", True),
        ("captures/runs.csv.gz", True),
        ("runs.csv.gz", False),
        ("Sessions.csv.zst", False),
        ("a.tar.gz", False),
        ("a.exe.gz", False),
        ("a.parquet.zst", False),
        ("a.csv.gz.gz", False),
        ("a.csv.bz2", False),
        ("a.gz", False),
        (".csv.gz", False),
        ("a.csv", False),
    ],
)
def test_captures_alone_may_be_packed(name, expected):
    assert is_packed_capture(name) is expected


@pytest.mark.parametrize(("ending", "pack"), [("gz", gzip.compress), ("zst", zstandard)])
def test_bytes_are_counted(tmp_path, ending, pack):
    path = tmp_path / f"a.csv.{ending}"
    path.write_bytes(pack(NOISE))
    assert unpacked(path, FAR) == Unpacked(len(NOISE))


@pytest.mark.parametrize(("ending", "pack"), [("gz", gzip.compress), ("zst", zstandard)])
def test_a_capture_that_packs_too_tightly_is_stopped_on_the_way(tmp_path, ending, pack):
    path = tmp_path / f"a.csv.{ending}"
    path.write_bytes(pack(b"7.1\n" * 16_000_000))
    found = unpacked(path, FAR)
    ratio = limit("packed.ratio")
    said = f"the file unpacks to more than the limit packed.ratio = {ratio} times its packed size"
    assert found.problem == ("archive_ratio", said)
    assert found.size <= max(2 << 20, ratio * path.stat().st_size + (1 << 20))


def test_a_capture_beyond_the_size_of_one_is_named_with_the_limit(tmp_path, monkeypatch):
    monkeypatch.setattr(packed_module, "megabytes", lambda _: 1 << 20)
    path = tmp_path / "a.csv.gz"
    path.write_bytes(gzip.compress(NOISE))
    said = f"the file unpacks to more than the limit files.capture_mb = {limit('files.capture_mb')}"
    assert unpacked(path, FAR) == Unpacked(2 << 20, ("file_too_large", said))


def test_captures_that_together_are_beyond_the_sets_limit_are_named(made, scratch, monkeypatch):
    """Half a gigabyte each is fine; nine of them are not."""
    monkeypatch.setattr(
        packed_module, "open_bytes", lambda path: (path.parent / "plain.csv").open("rb")
    )
    monkeypatch.setattr("rigledger.intake.gate.megabytes", lambda _: 8 << 20)
    made.files = {"captures/plain.csv": b"7.1\n" * 500_000}
    made.files |= {f"captures/{n}.csv.gz": os.urandom(20_000) for n in range(5)}
    found = inspect(made.write(), scratch).findings
    assert [(f.rule, f.file) for f in found] == [("set_too_large", "captures/3.csv.gz")]
    assert f"folder.total_mb = {limit('folder.total_mb')}" in found[0].reason


def test_small_captures_may_pack_as_tightly_as_they_do(tmp_path):
    path = tmp_path / "a.csv.gz"
    path.write_bytes(gzip.compress(b"16.7\n" * 200_000))
    assert path.stat().st_size * limit("packed.ratio") < 1_000_000
    assert unpacked(path, FAR) == Unpacked(1_000_000)


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.csv.gz", gzip.compress(NOISE)[:-2000]),
        ("a.csv.gz", b"no gzip"),
        ("a.csv.zst", zstandard(NOISE)[:-2000]),
        ("a.csv.zst", b"no frame"),
        ("a.csv.zst", b""),
    ],
)
def test_damage_is_left_to_whoever_reads_the_capture(tmp_path, name, data):
    (tmp_path / name).write_bytes(data)
    assert unpacked(tmp_path / name, FAR).problem is None


@pytest.mark.parametrize(
    ("head", "window"),
    [
        (b"\x00\x00", 1 << 10),
        (b"\x00\x07", (1 << 10) + 7 * (1 << 7)),
        (b"\x00\x88", 1 << 27),
        (b"\x00\xff", 15 << 38),
        (b"\x20\x11", 17),
        (b"\x60\x00\x01", 512),
        (b"\xa1\x09\x00\x00\x00\x40", 1 << 30),
        (b"\xe3" + bytes(4) + (1 << 40).to_bytes(8, "little"), 1 << 40),
    ],
)
def test_the_window_is_read_as_the_frame_states_it(head, window):
    """RFC 8878, 3.1.1.1: window descriptor, or the content size of a frame of a single segment."""
    assert window_of(MAGIC + head + bytes(8)) == window


@pytest.mark.parametrize("head", [b"", MAGIC, b"\x1f\x8b\x08\x00\x00\x00\x00", b"\x50\x2a\x4d\x18"])
def test_what_is_no_frame_states_no_window(head):
    assert window_of(head) == 0


def test_a_frame_that_asks_for_much_memory_is_refused_unread(made, scratch):
    made.files["captures/1.csv.zst"] = MAGIC + b"\x00\x90" + b"\x01\x00\x00" + bytes(9)
    (found,) = inspect(made.write(), scratch).findings
    assert (found.rule, found.file) == ("file_too_large", "captures/1.csv.zst")
    assert found.reason == (
        "unpacking it takes 268435456 bytes of memory, beyond the limit packed.window_mb = 128"
    )
    assert found.next_step == "Hand in the capture without packing it, and of one run alone."


@pytest.mark.parametrize("name", ["runs.csv.gz", "inner.csv.gz.zip", "sessions.csv.zst"])
def test_what_is_no_capture_stays_closed(made, scratch, name):
    made.files[name] = gzip.compress(b"rig\n")
    assert [(f.rule, f.file) for f in inspect(made.write(), scratch).findings] == [
        ("archive_in_archive", name)
    ]
