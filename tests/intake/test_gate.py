# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""Archives and folders built to do harm: one refusal each, nothing written outside."""

from __future__ import annotations

import os
import stat
import zipfile
import zlib

import pytest

from rigledger.intake.gate import IntakeError, inspect
from rigledger.intake.limits import limit
from rigledger.intake.names import name_problem


@pytest.fixture
def scratch(tmp_path):
    folder = tmp_path / "scratch"
    folder.mkdir()
    return folder


def packed(tmp_path, *entries: tuple[str, bytes], mode: int = 0, flag: int = 0):
    path = tmp_path / "set.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries:
            info = zipfile.ZipInfo(name)
            info.external_attr = mode << 16
            info.flag_bits |= flag
            archive.writestr(info, data, zipfile.ZIP_DEFLATED)
    return path


@pytest.mark.parametrize(
    ("name", "rule"),
    [
        ("../runs.csv", "name_outside_set"),
        ("captures/../../runs.csv", "name_outside_set"),
        ("/etc/passwd", "name_outside_set"),
        ("C:/runs.csv", "name_outside_set"),
        ("c:runs.csv", "name_outside_set"),
        ("..\\runs.csv", "name_outside_set"),
        ("\\\\host\\share\\runs.csv", "name_outside_set"),
        ("con.csv", "name_not_portable"),
        ("captures/LPT1.csv", "name_not_portable"),
        ("NUL", "name_not_portable"),
        ("runs.csv.", "name_not_portable"),
        ("runs.csv ", "name_not_portable"),
        ("a//b.csv", "name_not_portable"),
        ("./runs.csv", "name_not_portable"),
        ("ru:ns.csv", "name_not_portable"),
        ("runs?.csv", "name_not_portable"),
        ("runs\u202evsc.csv", "name_hidden_characters"),
        ("runs\u200b.csv", "name_hidden_characters"),
        ("runs\n.csv", "name_hidden_characters"),
        ("runs\x1b[2J.csv", "name_hidden_characters"),
        ("a/" * 7 + "runs.csv", "name_too_long"),
        ("x" * 201 + ".csv", "name_too_long"),
    ],
)
def test_a_name_that_can_do_harm_is_refused(tmp_path, scratch, name, rule):
    problem = name_problem(name)
    assert problem is not None
    assert problem[0] == rule
    result = inspect(packed(tmp_path, (name, b"x")), scratch)
    assert result.folder is None
    assert rule in {finding.rule for finding in result.findings}
    assert [path for path in scratch.rglob("*") if path.is_file()] == []


@pytest.mark.parametrize("name", ["runs.csv", "captures/017.csv", "Aufnähme 1.csv", "common.csv"])
def test_an_ordinary_name_is_fine(name):
    assert name_problem(name) is None


@pytest.mark.parametrize(
    ("mode", "rule"),
    [
        (stat.S_IFLNK | 0o777, "link_in_set"),
        (stat.S_IFCHR | 0o600, "special_file"),
        (stat.S_IFIFO | 0o600, "special_file"),
    ],
)
def test_links_and_devices_in_an_archive_are_refused(tmp_path, scratch, mode, rule):
    result = inspect(packed(tmp_path, ("runs.csv", b"/etc/passwd"), mode=mode), scratch)
    assert (result.folder, [f.rule for f in result.findings]) == (None, [rule])


def test_names_that_differ_in_case_or_accents_only_are_one_name(tmp_path, scratch):
    path = packed(
        tmp_path, ("runs.csv", b"a"), ("RUNS.CSV", b"b"), ("\u00e9.csv", b""), ("e\u0301.csv", b"")
    )
    rules = [finding.rule for finding in inspect(path, scratch).findings]
    assert rules == ["name_twice", "name_twice"]


def test_an_archive_that_unpacks_to_far_more_is_refused_before_it_is_unpacked(tmp_path, scratch):
    path = packed(tmp_path, ("runs.csv", b"0" * 5_000_000))
    found = inspect(path, scratch).findings
    assert [f.rule for f in found] == ["archive_ratio"]
    assert f"zip.ratio = {limit('zip.ratio')}" in found[0].reason


def test_an_archive_that_lies_about_a_size_is_stopped_while_it_unpacks(tmp_path, scratch):
    path = packed(tmp_path, ("runs.csv", os.urandom(100_000)))
    data = bytearray(path.read_bytes())
    for mark, offset in ((b"PK\x01\x02", 24), (b"PK\x03\x04", 22)):
        at = data.index(mark) + offset
        data[at : at + 4] = (1000).to_bytes(4, "little")
    path.write_bytes(bytes(data))
    result = inspect(path, scratch)
    assert (result.folder, [f.rule for f in result.findings]) == (None, ["archive_damaged"])


def test_entries_that_share_their_packed_bytes_are_refused(tmp_path, scratch):
    path = packed(tmp_path, ("a.csv", b"a" * 100), ("b.csv", b"a" * 100))
    data = bytearray(path.read_bytes())
    second = data.index(b"PK\x01\x02", data.index(b"PK\x01\x02") + 4)
    data[second + 42 : second + 46] = (0).to_bytes(4, "little")
    path.write_bytes(bytes(data))
    assert "archive_too_large" in {f.rule for f in inspect(path, scratch).findings}


def test_too_many_entries_are_refused(tmp_path, scratch):
    path = packed(tmp_path, *((f"{n}.csv", b"") for n in range(limit("zip.entries") + 1)))
    found = inspect(path, scratch).findings
    assert [f.rule for f in found] == ["archive_too_large"]
    assert "zip.entries" in found[0].reason


@pytest.mark.parametrize(
    ("name", "rule"),
    [
        ("inner.zip", "archive_in_archive"),
        ("inner.tar.gz", "archive_in_archive"),
        ("tool.exe", "program_in_set"),
        ("kit.xlsm", "program_in_set"),
        ("photo.png", "file_not_used"),
    ],
)
def test_files_that_are_no_results_are_named(made, scratch, name, rule):
    made.files[name] = b"x"
    assert [(f.rule, f.file) for f in inspect(made.write(), scratch).findings] == [(rule, name)]


def test_a_damaged_archive_is_named(tmp_path, scratch):
    path = packed(tmp_path, ("runs.csv", b"abc" * 1000))
    path.write_bytes(path.read_bytes()[:-30])
    assert [f.rule for f in inspect(path, scratch).findings] == ["archive_damaged"]
    path.write_bytes(b"no archive")
    (scratch / "unpacked").rmdir()
    assert [f.rule for f in inspect(path, scratch).findings] == ["archive_damaged"]


def test_a_wrong_checksum_is_named(tmp_path, scratch):
    path = packed(tmp_path, ("runs.csv", b"abc" * 1000))
    data = bytearray(path.read_bytes())
    wrong = (zlib.crc32(b"else")).to_bytes(4, "little")
    for mark, offset in ((b"PK\x01\x02", 16), (b"PK\x03\x04", 14)):
        at = data.index(mark) + offset
        data[at : at + 4] = wrong
    path.write_bytes(bytes(data))
    assert [f.rule for f in inspect(path, scratch).findings] == ["archive_damaged"]


def test_an_encrypted_archive_is_named(tmp_path, scratch):
    path = packed(tmp_path, ("runs.csv", b"abc"))
    data = bytearray(path.read_bytes())
    for mark, offset in ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6)):
        data[data.index(mark) + offset] |= 1
    path.write_bytes(bytes(data))
    assert [f.rule for f in inspect(path, scratch).findings] == ["archive_encrypted"]


@pytest.mark.skipif(os.name == "nt", reason="making a link needs a privilege there")
@pytest.mark.parametrize("target", ["/etc", "/etc/passwd", "rigs.csv", "nowhere"])
def test_a_link_in_a_folder_is_not_followed(made, scratch, target):
    folder = made.write()
    (folder / "more.csv").symlink_to(target)
    result = inspect(folder, scratch)
    assert [(f.rule, f.file) for f in result.findings] == [("link_in_set", "more.csv")]
    assert result.folder is None


@pytest.mark.skipif(os.name == "nt", reason="there are no pipes in folders there")
def test_a_pipe_in_a_folder_is_not_opened(made, scratch):
    folder = made.write()
    os.mkfifo(folder / "more.csv")
    assert [f.rule for f in inspect(folder, scratch).findings] == ["special_file"]


def test_what_is_not_there_or_is_no_set_is_wrong_use(tmp_path, scratch):
    with pytest.raises(IntakeError, match="no such file"):
        inspect(tmp_path / "nothing", scratch)
    other = tmp_path / "notes.txt"
    other.write_text("x", encoding="utf-8")
    with pytest.raises(IntakeError, match="a set is a folder"):
        inspect(other, scratch)
