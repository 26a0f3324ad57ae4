"""Written tables become current in one step; what was current stays so until then."""

from __future__ import annotations

import errno
import sys
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.contract import load_contract
from rigledger.files import files_below
from rigledger.storage import StorageError, told_storage_errors
from rigledger.tables import write
from rigledger.tables.write import Built, current_tables, write_tables
from rigledger.tabular import create_tables

if TYPE_CHECKING:
    from pathlib import Path

FILES = ["run_metrics.csv", "run_metrics.parquet"]


@pytest.fixture
def built(monkeypatch: pytest.MonkeyPatch) -> Built:
    """One table without rows stands for all of them."""
    monkeypatch.setattr(write, "DERIVED_TABLES", ("run_metrics",))
    contract = load_contract()
    con = duckdb.connect()
    create_tables(con, [contract.wide("derived", "run_metrics")])
    return Built(con, None, contract)  # type: ignore[arg-type] - writing asks nothing of the design


def _add_row(built: Built) -> None:
    built.con.execute("insert into run_metrics default values")


def _text(out: Path) -> str:
    folder = current_tables(out)
    assert folder is not None
    return (folder / "run_metrics.csv").read_text(encoding="utf-8")


def test_the_tables_stand_under_the_same_path_after_each_build(
    built: Built, tmp_path: Path
) -> None:
    assert current_tables(tmp_path) is None
    assert write_tables(built, tmp_path) == {"run_metrics": 0}
    before, place = _text(tmp_path), current_tables(tmp_path)
    _add_row(built)
    assert write_tables(built, tmp_path) == {"run_metrics": 1}
    assert current_tables(tmp_path) == place
    assert _text(tmp_path).startswith(before)
    assert _text(tmp_path) != before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["current", "tables-2"]
    assert files_below(tmp_path / "tables-2") == FILES


def test_without_links_a_text_file_names_the_current_folder(
    built: Built, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object, **__: object) -> None:
        raise PermissionError(errno.EPERM, "no links here")

    monkeypatch.setattr("pathlib.Path.symlink_to", refused)
    write_tables(built, tmp_path)
    assert (tmp_path / "current").read_text(encoding="utf-8") == "tables-1"
    assert current_tables(tmp_path) == tmp_path / "tables-1"


def test_what_else_lies_in_the_folder_stays_but_not_tables_of_the_old_way(
    built: Built, tmp_path: Path
) -> None:
    for name in ("run_metrics.csv", "notes.txt"):
        (tmp_path / name).write_text("earlier", encoding="utf-8")
    (tmp_path / "tables-mine").mkdir()
    write_tables(built, tmp_path)
    held = sorted(path.name for path in tmp_path.iterdir())
    assert held == ["current", "notes.txt", "tables-1", "tables-mine"]


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of a file")
def test_a_disk_that_takes_no_more_leaves_the_tables_that_were_current(
    built: Built, tmp_path: Path
) -> None:
    import resource

    write_tables(built, tmp_path)
    before = _text(tmp_path)
    _add_row(built)
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20, limits[1]))
    try:
        said = "the file is larger than the system allows"
        with pytest.raises(StorageError, match=said), told_storage_errors():
            write_tables(built, tmp_path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert _text(tmp_path) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["current", "tables-1"]
