"""What a superseded set said stays, marked with what replaced it, where the later set differs."""

from __future__ import annotations

import csv
import datetime as dt
import shutil
from typing import TYPE_CHECKING

import pytest

from rigledger.errors import StudyError
from rigledger.study.admit import AdmitResult, admit, withdraw
from rigledger.study.load import load_source

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.study.layout import StudyFolder

DAY = dt.date(2026, 10, 28)


def again(handed_in: Path, folder: Path) -> tuple[Path, str, str]:
    """The set once more, replacing the first, with one average changed."""
    shutil.copytree(handed_in, folder)
    manifest = folder / "result-set.toml"
    text = manifest.read_text(encoding="utf-8").replace('set = "autumn-1"', 'set = "autumn-2"', 1)
    manifest.write_text(
        text.replace('# supersedes = "autumn-0"', 'supersedes = "autumn-1"'), encoding="utf-8"
    )
    with (folder / "runs.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    mended = next(row for row in rows if row["role"] == "measured")
    was = mended["average_fps"]
    mended["average_fps"] = str(round(float(was) + 0.3, 1))
    with (folder / "runs.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    return folder, was, mended["average_fps"]


def test_a_replaced_value_stays_with_the_set_that_replaced_it(
    *,
    study: StudyFolder,
    admitted: AdmitResult,
    handed_in: Path,
    tmp_path: Path,
    con: duckdb.DuckDBPyConnection,
) -> None:
    assert admitted.admitted
    folder, was, becomes = again(handed_in, tmp_path / "again")
    result = admit(study, folder, received_on=DAY)
    assert result.admitted, result.check.findings
    load_source(study, con)
    rows = con.execute(
        "select set_id, metric, value, superseded_by, value_now from superseded_values"
    ).fetchall()
    assert rows == [("anna.autumn-1", "average_fps", float(was), "anna.autumn-2", float(becomes))]
    assert con.execute("select distinct set_id from sessions").fetchall() == [("anna.autumn-2",)]


def test_a_withdrawn_set_leaves_no_value_even_where_it_was_superseded(
    *,
    study: StudyFolder,
    admitted: AdmitResult,
    handed_in: Path,
    tmp_path: Path,
    con: duckdb.DuckDBPyConnection,
) -> None:
    assert admitted.admitted
    folder, _, _ = again(handed_in, tmp_path / "again")
    assert admit(study, folder, received_on=DAY).admitted
    withdraw(study, "anna.autumn-1", on=DAY, reason="asked for")
    load_source(study, con)
    assert con.execute("from superseded_values").fetchall() == []


def test_an_altered_superseded_set_is_named(
    *,
    study: StudyFolder,
    admitted: AdmitResult,
    handed_in: Path,
    tmp_path: Path,
    con: duckdb.DuckDBPyConnection,
) -> None:
    assert admitted.admitted
    folder, _, _ = again(handed_in, tmp_path / "again")
    assert admit(study, folder, received_on=DAY).admitted
    runs = study.set_folder("anna.autumn-1") / "runs.csv"
    runs.write_bytes(runs.read_bytes() + b"\n")
    with pytest.raises(StudyError, match=r"was altered: runs\.csv"):
        load_source(study, con)
