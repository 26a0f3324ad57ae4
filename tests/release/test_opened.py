"""rigledger.open: folder, zip and tarball; every reader gets the same typed values."""

from __future__ import annotations

import datetime as dt
import shutil
import subprocess
import sys
import tarfile
from typing import TYPE_CHECKING

import pytest

import rigledger
from rigledger.release.deposit import deposit
from rigledger.release.errors import RecheckError

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.release.write import ReleaseResult


def test_every_table_is_read_alike_by_every_reader(published: ReleaseResult) -> None:
    with rigledger.open(published.folder) as release:
        assert (release.version, release.fingerprint) == ("1.0.0", published.fingerprint)
        assert len(release) == len(release.tables) > 30
        for name in release:
            table = release[name]
            rows = table.rows()
            assert table.polars().to_dicts() == rows
            assert table.arrow().to_pylist() == rows
            frame = table.pandas()
            assert (len(frame), tuple(frame)) == (len(rows), table.columns)


def test_values_have_the_types_that_the_release_states(published: ReleaseResult) -> None:
    release = rigledger.open(str(published.folder))
    session = release["sessions"].rows()[0]
    assert (session["boot"], session["started_on"], session["started_at"]) == (
        1, dt.date(2026, 10, 5), dt.datetime(2026, 10, 5, 9, 12),
    )  # fmt: skip
    assert release["stacks"].rows()[0]["driver_version"] == "551.10"
    runs = release["runs"].pandas()
    kinds = {name: str(runs[name].dtype) for name in ("run", "pass", "duration_s")}
    assert kinds == {"run": "string", "pass": "Int64", "duration_s": "float64"}
    assert release["runs"].schema["primaryKey"] == ["run"]


def test_one_connection_joins_the_tables(published: ReleaseResult) -> None:
    con = rigledger.open(published.folder).duckdb()
    query = "SELECT count(*) FROM measurements JOIN runs USING (run) WHERE level = 'wide'"
    assert con.execute(query).fetchall() == [(48,)]


@pytest.mark.parametrize("packing", ["zip", "tar.gz"])
def test_archives_are_opened_and_tidied_up(
    published: ReleaseResult, tmp_path: Path, packing: str
) -> None:
    archive = tmp_path / f"release.{packing}"
    if packing == "zip":
        deposit(published.folder, archive)
    else:
        with tarfile.open(archive, "w:gz") as packed:
            packed.add(published.folder, "link-try")
    with rigledger.open(archive) as release:
        assert release["cards"].rows()[0]["card"] == "velmar-50"
        assert release.folder.is_dir()
    assert not release.folder.exists()


def test_an_altered_release_is_refused_unless_told_not_to_look(
    published: ReleaseResult, tmp_path: Path
) -> None:
    folder = shutil.copytree(published.folder, tmp_path / "altered")
    path = folder / "data" / "measurements.csv"
    path.write_bytes(path.read_bytes().replace(b"159.36", b"159.37", 1))
    with pytest.raises(RecheckError, match=r"measurements\.csv has other bytes"):
        rigledger.open(folder)
    rows = rigledger.open(folder, verify=False)["measurements"].rows()
    assert [row["run"] for row in rows if row["value"] == 159.37] == ["anna.fast.1.001"]


def test_a_table_that_is_not_there_is_answered_with_the_nearest_name(
    published: ReleaseResult,
) -> None:
    with pytest.raises(RecheckError, match="did you mean 'comparisons'"):
        rigledger.open(published.folder)["comparison"]


def test_opening_loads_no_frame_library(published: ReleaseResult) -> None:
    code = (
        "import sys, rigledger\n"
        f"rigledger.open({str(published.folder)!r})['runs'].rows()\n"
        "print(sorted({'numpy', 'pandas', 'polars', 'pyarrow'} & set(sys.modules)))"
    )
    done = subprocess.run(  # noqa: S603 - our own interpreter
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
