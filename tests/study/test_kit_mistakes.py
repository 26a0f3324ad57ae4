"""Kits filled wrongly as real testers would: the report names each mistake in its first screen."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import pytest

from rigledger.intake.check import check_set
from rigledger.intake.report import summary_text
from rigledger.study.kit_folder import write_kit_folder
from rigledger.study.kit_xlsx import write_kit_xlsx

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigledger.study.kit_model import Kit
    from rigledger.study.layout import StudyFolder

    Row = dict[str, Any]
    Change = Callable[[int, Row], Row | None]

SCREEN = 40
LOW = "low_1pct_rank_fps"


def _swapped(_: int, row: Row) -> Row:
    return row | {"average_fps": row[LOW], LOW: row["average_fps"]}


def _milliseconds(_: int, row: Row) -> Row:
    return row | {name: round(1000 / row[name], 2) for name in ("average_fps", LOW)}


def _comma(_: int, row: Row) -> Row:
    return row | {"average_fps": str(row["average_fps"]).replace(".", ",")}


def _one_mean(_: int, row: Row) -> Row | None:
    twice = row["role"] == "measured" and (row["pass"] > 1 or row["session"] in {"3", "4"})
    return None if twice else row


def _misspelt(_: int, row: Row) -> Row:
    return row | ({"workload": "harbor-dawn"} if row["workload"] == "harbour-dawn" else {})


def _nickname(_: int, row: Row) -> Row:
    return row | ({"resolution": "1440p"} if row["resolution"] == "2560x1440" else {})


def _pasted(_: int, row: Row) -> Row:
    return row | {"average_fps": 101.3, LOW: 70.2}


def _date(place: int, row: Row) -> Row:
    return row | ({"average_fps": dt.date(2026, 5, 12)} if place == 3 else {})


def _state_blank(_: int, row: Row) -> Row:
    return row | {"level_state": None}


def _no_driver(_: int, row: Row) -> Row:
    return row | {"driver_version": None}


def _driver_number(_: int, row: Row) -> Row:
    return row | {"driver_version": 551.1}


def _aborted(place: int, row: Row) -> Row:
    return row | ({"role": "aborted", "average_fps": None, LOW: None} if place == 5 else {})


@pytest.mark.parametrize(
    ("table", "change", "form", "named"),
    [
        ("runs", _swapped, "xlsx", "average_below_low"),
        ("runs", _milliseconds, "xlsx", "milliseconds"),
        ("runs", _comma, "folder", "decimal"),
        ("runs", _one_mean, "xlsx", "not the mean of the runs"),
        ("runs", _misspelt, "xlsx", "did you mean 'harbour-dawn'"),
        ("runs", _nickname, "xlsx", "1440p"),
        ("runs", _pasted, "xlsx", "same value"),
        ("runs", _date, "xlsx", "turned a number into a date"),
        ("runs", _state_blank, "folder", "level_state"),
        ("runs", _aborted, "xlsx", "reason"),
        ("sessions", _no_driver, "xlsx", "driver_version"),
        ("sessions", _driver_number, "xlsx", "the cell is a number, not text"),
    ],
)
def test_a_mistake_is_named_in_the_first_screen(  # noqa: PLR0917
    study: StudyFolder,
    fast_kit: Kit,
    fill: Callable[[Kit], Kit],
    tmp_path: Path,
    table: str,
    change: Change,
    form: str,
    named: str,
) -> None:
    filled = fill(fast_kit)
    rows = [
        changed
        for place, row in enumerate(filled.table(table).rows)
        if (changed := change(place, row)) is not None
    ]
    path = tmp_path / f"kit.{form}"
    wrong = filled.with_rows(table, rows)
    (write_kit_xlsx if form == "xlsx" else write_kit_folder)(path, wrong)
    report = summary_text(check_set(path, study.root))
    assert named in "\n".join(report.splitlines()[:SCREEN])
