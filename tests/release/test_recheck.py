"""What recheck says of an unaltered release, and what it names in an altered one."""

from __future__ import annotations

import csv
import io
import json
import shutil
import tarfile
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.contract import load_contract
from rigledger.files import files_below, sha256_of, sha256sums
from rigledger.release.archive import open_release
from rigledger.release.errors import RecheckError
from rigledger.release.folder import NOT_SUMMED
from rigledger.release.integrity import descriptor_differences, read_descriptor, sums_differences
from rigledger.release.recheck import RecheckResult, recheck
from rigledger.release.show import recheck_lines

if TYPE_CHECKING:
    from collections.abc import Callable

    from rigledger.release.write import ReleaseResult

Rows = list[dict[str, str]]


def repair_hashes(folder: Path) -> None:
    """Do what somebody would who hides an alteration: make all sums fit again."""
    descriptor = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    for held in descriptor["resources"]:
        path = folder / held["path"]
        held["hash"], held["bytes"] = f"sha256:{sha256_of(path)}", path.stat().st_size
    text = json.dumps(descriptor, indent=2, ensure_ascii=False) + "\n"
    (folder / "datapackage.json").write_bytes(text.encode("utf-8"))
    (folder / "SHA256SUMS").write_bytes(sha256sums(folder, NOT_SUMMED).encode("utf-8"))


def edit(path: Path, change: Callable[[Rows], Rows]) -> None:
    """Edit a CSV file and its Parquet copy alike."""
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))
    names = list(rows[0])
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, names, lineterminator="\n")
    writer.writeheader()
    writer.writerows(change(rows))
    path.write_bytes(text.getvalue().encode("utf-8"))
    copy = path.with_suffix(".parquet")
    if copy.exists():
        con = duckdb.connect()
        con.execute(f"CREATE TABLE t AS FROM '{copy}' LIMIT 0")
        con.execute(f"INSERT INTO t FROM read_csv('{path}', all_varchar = true)")
        con.execute(f"COPY t TO '{copy}' (FORMAT parquet, COMPRESSION zstd)")


def set_cell(row: int, column: str, value: str) -> Callable[[Rows], Rows]:
    def change(rows: Rows) -> Rows:
        rows[row][column] = value
        return rows

    return change


def without_row(row: int) -> Callable[[Rows], Rows]:
    return lambda rows: rows[:row] + rows[row + 1 :]


def places(result: RecheckResult) -> set[tuple[str, str | None]]:
    return {(held.file, held.column) for held in result.differences}


def test_an_unaltered_release_keeps_all_three_promises(published: ReleaseResult) -> None:
    result = recheck(published.folder, fingerprint=published.fingerprint)
    assert result.differences == ()
    assert result.verdict == "as_published"
    assert [promise.holds for promise in result.promises] == [True, True, True]
    assert result.fingerprint == published.fingerprint


def test_a_flipped_byte_in_any_file_is_named(release_copy: Path) -> None:
    names = [name for name in files_below(release_copy) if name != "SHA256SUMS"]
    # In each round other files; each one stands beside each other one, altered and not.
    rounds = [
        {name for place, name in enumerate(names, start=1) if place >> bit & 1}
        for bit in range(len(names).bit_length())
    ]
    assert set.union(*rounds) == set(names)
    for altered in rounds:
        for name in altered:
            flip(release_copy / name)
        found = [(held.kind, held.file) for held in sums_differences(release_copy)]
        assert sorted(found) == [("altered", name) for name in sorted(altered)]
        for name in altered:
            flip(release_copy / name)
    assert sums_differences(release_copy) == []
    flip(release_copy / "SHA256SUMS")
    assert [held.kind for held in sums_differences(release_copy)] != []


def flip(path: Path) -> None:
    """Flip a bit in the middle of a file, or flip it back."""
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def test_a_flipped_byte_is_named_by_the_whole_check(release_copy: Path, tmp_path: Path) -> None:
    path = release_copy / "data" / "measurements.csv"
    path.write_bytes(path.read_bytes().replace(b"159.36", b"159.37", 1))
    archive = shutil.make_archive(str(tmp_path / "packed"), "zip", release_copy)
    result = recheck(Path(archive))
    assert result.verdict == "altered"
    assert ("data/measurements.csv", None) in places(result)
    key = "run=anna.fast.1.001 metric=average_fps origin=reported"
    copies = [held for held in result.differences if held.kind == "copy_differs"]
    assert [(h.file, h.key, h.column, h.recorded, h.found) for h in copies] == [
        ("data/measurements.parquet", key, "value", "159.36", "159.37")
    ]


def test_missing_and_extra_files_are_named(release_copy: Path) -> None:
    (release_copy / "readers.md").unlink()
    (release_copy / "notes.txt").write_text("mine", encoding="utf-8")
    found = [(held.kind, held.file) for held in sums_differences(release_copy)]
    assert found == [("missing", "readers.md"), ("extra", "notes.txt")]


def test_a_derived_value_edited_with_all_hashes_repaired_is_named(release_copy: Path) -> None:
    edit(release_copy / "derived" / "comparisons.csv", set_cell(0, "change_pct", "-11.5"))
    repair_hashes(release_copy)
    result = recheck(release_copy)
    held = next(one for one in result.differences if one.kind == "value_differs")
    assert result.verdict == "altered"
    assert held.file == "derived/comparisons.csv"
    assert held.key == (
        "rig=anna.cross stack=anna.stack-000000000001 workload=harbour-dawn title_build=1.4 "
        "resolution=1920x1080 contrast=narrow-against-wide metric=average_fps"
    )
    assert (held.column, held.recorded) == ("change_pct", "-11.5")
    assert float(held.found or "nan") == pytest.approx(-12, abs=0.02)
    assert [promise.holds for promise in result.promises] == [True, False, False]


def test_rows_deleted_with_all_hashes_repaired_are_named(release_copy: Path) -> None:
    tables = ("facts", "measurements", "plausible_ranges", "runs")
    for table in tables:
        edit(release_copy / "data" / f"{table}.csv", without_row(0))
    repair_hashes(release_copy)
    result = recheck(release_copy)
    assert result.verdict == "altered"
    counted = [held.file for held in result.differences if held.kind == "rows_counted"]
    assert counted == [f"data/{table}.csv" for table in tables]
    orphans = [held for held in result.differences if "unknown_reference" in held.says]
    assert {(held.file, held.column) for held in orphans} == {
        ("data/measurements.csv", "run"),
        ("derived/runs_wide.csv", "run"),
    }


def test_source_values_edited_with_all_hashes_repaired_leave_a_trace(release_copy: Path) -> None:
    edit(release_copy / "data" / "measurements.csv", set_cell(0, "value", "170.0"))
    edit(release_copy / "data" / "sessions.csv", set_cell(0, "round", "2"))
    repair_hashes(release_copy)
    result = recheck(release_copy)
    assert result.verdict == "altered"
    assert places(result) >= {
        ("derived/cells.csv", "geometric_mean"),
        ("derived/runs_wide.csv", "round"),
    }


def test_page_and_design_edited_with_repaired_sums_are_named(release_copy: Path) -> None:
    page = release_copy / "index.html"
    page.write_bytes(page.read_bytes().replace(b"such a loss", b"such a gain", 1))
    study = release_copy / "study.toml"
    text = study.read_text(encoding="utf-8")
    study.write_text(
        text.replace("material_change_pct = 3.0", "material_change_pct = 15.0"), "utf-8"
    )
    repair_hashes(release_copy)
    result = recheck(release_copy)
    assert places(result) >= {("index.html", None), ("derived/comparisons.csv", "size")}
    assert result.verdict == "altered"


def test_what_cannot_be_seen_without_the_fingerprint_is_said_and_seen_with_it(
    published: ReleaseResult, release_copy: Path
) -> None:
    """Repaired sums over an altered note of the list of hashes: only the fingerprint tells."""
    sums = release_copy / "SHA256SUMS"
    lines = sums.read_text(encoding="utf-8").splitlines(keepends=True)
    sums.write_bytes("".join(reversed(lines)).encode("utf-8"))
    without = recheck(release_copy, threads=1)
    assert (without.verdict, without.differences) == ("as_published", ())
    assert any("Compare the fingerprint" in text for text in without.not_proven)
    told = recheck(release_copy, fingerprint=published.fingerprint)
    assert [held.kind for held in told.differences] == ["fingerprint"]
    assert told.verdict == "altered"


def test_derived_values_of_another_version_are_not_called_altered(release_copy: Path) -> None:
    edit(release_copy / "derived" / "comparisons.csv", set_cell(0, "change_pct", "-11.5"))
    path = release_copy / "datapackage.json"
    held = path.read_text(encoding="utf-8").replace('"duckdb": "2.0.1"', '"duckdb": "2.0.0"')
    path.write_text(held, encoding="utf-8")
    repair_hashes(release_copy)
    (release_copy / "index.html").unlink()
    shutil.copy(release_copy / "CHANGES.md", release_copy / "index.html")
    repair_hashes(release_copy)
    result = recheck(release_copy)
    assert result.verdict == "made_by_another_version"
    assert result.versions == {"duckdb": ("2.0.0", duckdb.__version__)}


def test_nobody_gains_by_stating_an_older_contract(release_copy: Path) -> None:
    edit(release_copy / "derived" / "comparisons.csv", set_cell(0, "change_pct", "-11.5"))
    path = release_copy / "datapackage.json"
    held = path.read_text(encoding="utf-8").replace(
        f'"contract": "{load_contract().version}"', '"contract": "1.0.0"'
    )
    path.write_text(held, encoding="utf-8")
    repair_hashes(release_copy)
    result = recheck(release_copy)
    assert result.verdict == "altered"
    assert ("schema/contract.toml", "1.0.0") in {(d.file, d.recorded) for d in result.differences}


def test_a_cell_in_another_spelling_is_named(release_copy: Path) -> None:
    edit(release_copy / "data" / "cards.csv", set_cell(0, "memory_gb", "6"))
    repair_hashes(release_copy)
    found = [held for held in recheck(release_copy).differences if held.kind == "contract"]
    assert [(h.file, h.key, h.column, h.recorded) for h in found] == [
        ("data/cards.csv", "row 2", "memory_gb", "6")
    ]


@pytest.mark.parametrize("packing", ["zip", "tar.gz"])
def test_a_packed_release_is_opened(published: ReleaseResult, tmp_path: Path, packing: str) -> None:
    archive = tmp_path / f"release.{packing}"
    folder = published.folder
    if packing == "zip":
        with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as opened:
            for name in files_below(folder):
                opened.write(folder / name, f"{folder.name}/{name}")
    else:
        with tarfile.open(archive, "w:gz") as opened:
            opened.add(folder, folder.name)
    (tmp_path / "scratch").mkdir()
    unpacked = open_release(archive, tmp_path / "scratch")
    assert sha256_of(unpacked / "SHA256SUMS") == published.fingerprint
    assert sums_differences(unpacked) == []


def test_an_archive_that_leads_outside_is_refused(tmp_path: Path) -> None:
    archive = tmp_path / "bad.zip"
    with zipfile.ZipFile(archive, "w") as opened:
        opened.writestr("../outside.txt", "x")
    with pytest.raises(RecheckError, match="leads out"):
        recheck(archive)
    assert not (tmp_path.parent / "outside.txt").exists()


def test_an_archive_with_a_name_that_is_no_text_is_refused(tmp_path: Path) -> None:
    archive = tmp_path / "bad.zip"
    with zipfile.ZipFile(archive, "w") as opened:
        opened.writestr("d\u00e9.txt", "x")  # its name is marked as UTF-8
    archive.write_bytes(archive.read_bytes().replace("\u00e9".encode(), b"\xd5("))
    with pytest.raises(RecheckError, match="can't be unpacked"):
        recheck(archive)


def test_what_is_no_release_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RecheckError, match="is no release"):
        recheck(tmp_path)


def test_a_description_that_leads_outside_is_refused(release_copy: Path) -> None:
    path = release_copy / "datapackage.json"
    text = path.read_text(encoding="utf-8").replace('"data/cards.csv"', '"../cards.csv"', 1)
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RecheckError, match="leads out"):
        read_descriptor(release_copy)
    assert "unreadable" in {held.kind for held in recheck(release_copy).differences}


def test_the_description_names_the_bytes_of_its_files(release_copy: Path) -> None:
    descriptor = read_descriptor(release_copy)
    assert descriptor_differences(release_copy, descriptor) == []
    (release_copy / "data" / "rigs.csv").write_bytes(b"x")
    found = descriptor_differences(release_copy, descriptor)
    assert [(held.kind, held.file) for held in found] == [("altered", "data/rigs.csv")]


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("datapackage.json", b'{"resources": []}'),
        ("datapackage.json", b"["),
        ("datapackage.json", b'{"resources": [{"path": 5, "hash": 1, "bytes": []}]}'),
        ("quality/results.json", b"[]"),
        ("quality/expectations.json", b"{"),
        ("quality/expectations.json", b'{"expectations": [{"name": "runs"}]}'),
        ("study.toml", b"[study]"),
        ("study.toml", b"\xff"),
        ("data/runs.csv", b""),
        ("data/runs.parquet", b"PAR1"),
        ("data/measurements.csv", b"run,metric\na,b\n"),
        ("derived/cells.csv", b"rig\n\x00\n"),
    ],
)
def test_any_damage_is_named_and_never_a_crash(release_copy: Path, name: str, data: bytes) -> None:
    (release_copy / name).write_bytes(data)
    result = recheck(release_copy)
    assert result.verdict == "altered"
    assert name in {held.file for held in result.differences}


@pytest.mark.parametrize("data", [b"\xff\xfe", b"no hash here"])
def test_a_damaged_list_of_hashes_is_no_release(release_copy: Path, data: bytes) -> None:
    (release_copy / "SHA256SUMS").write_bytes(data)
    with pytest.raises(RecheckError, match="is no release"):
        recheck(release_copy)


def test_a_link_in_place_of_a_file_is_named(release_copy: Path, tmp_path: Path) -> None:
    kept = shutil.move(release_copy / "LICENSE", tmp_path / "kept")
    (release_copy / "LICENSE").symlink_to(kept)
    assert [held.says for held in sums_differences(release_copy)] == [
        "LICENSE is a link: a release holds its files itself"
    ]


def test_results_of_expectations_are_evaluated_again_if_asked(
    published: ReleaseResult, release_copy: Path
) -> None:
    assert recheck(published.folder, deep=True).verdict == "as_published"
    path = release_copy / "quality" / "results.json"
    text = path.read_text(encoding="utf-8")
    path.write_bytes(text.replace('"met": true', '"met": false', 1).encode("utf-8"))
    repair_hashes(release_copy)
    assert ("quality/results.json", None) in places(recheck(release_copy, deep=True))


def test_another_release_than_the_one_before_is_refused(published: ReleaseResult) -> None:
    with pytest.raises(RecheckError, match="is not the release before this one"):
        recheck(published.folder, previous=published.folder)


def test_the_lines_for_a_person_begin_with_the_verdict(release_copy: Path) -> None:
    (release_copy / "datapackage.json").write_bytes(b"[")
    lines = recheck_lines(recheck(release_copy))
    assert lines[1].startswith("ALTERED")
    named = "  datapackage.json: datapackage.json has other bytes than SHA256SUMS records"
    assert any(line.startswith(named) for line in lines)
    assert lines[-1].startswith("Not proven:")
