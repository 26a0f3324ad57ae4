"""What remains after a partial admission is what the plan asks for and the study doesn't hold."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from typing import TYPE_CHECKING

from rigledger.study.admit import admit
from rigledger.study.decisions import Waiver
from rigledger.study.load import load_source
from rigledger.study.remaining import progress_of
from rigledger.study.sheet import Progress, make_sheet, rigs_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import duckdb

    from rigledger.study.layout import StudyFolder
    from rigledger.study.model import Design

    Edit = Callable[[Path, Callable[[dict[str, str]], dict[str, str] | None]], None]


def test_one_title_of_two_leaves_the_other(
    study: StudyFolder, handed_in: Path, design: Design, con: duckdb.DuckDBPyConnection, edit: Edit
) -> None:
    rigs = rigs_of(design, cards=["fast"])
    edit(handed_in / "runs.csv", lambda row: None if row["workload"] == "salt-road" else row)
    assert admit(study, handed_in, received_on=dt.date(2026, 10, 20)).admitted
    load_source(study, con)
    progress = progress_of(con, "anna")
    assert progress.last_boot == {"p1-fast": 4}
    left = make_sheet(design, rigs, progress=progress)
    assert [(held.boot, held.round) for held in left.sessions] == [(5, 1), (6, 1), (7, 2), (8, 2)]
    assert Counter(run.workload for run in left.runs) == {"salt-road": 12, "sentinel-loop": 8}


def test_another_contributor_has_everything_left(
    study: StudyFolder, handed_in: Path, con: duckdb.DuckDBPyConnection
) -> None:
    assert admit(study, handed_in, received_on=dt.date(2026, 10, 20)).admitted
    load_source(study, con)
    assert progress_of(con, "ann") == Progress()


def test_what_was_not_possible_is_not_asked_again_and_what_was_aborted_is(
    study: StudyFolder, handed_in: Path, design: Design, con: duckdb.DuckDBPyConnection, edit: Edit
) -> None:
    def change(row: dict[str, str]) -> dict[str, str]:
        here = (row["workload"], row["resolution"]) == ("salt-road", "2560x1440")
        if here and row["level"] == "x8":
            state = {"role": "not_possible", "level_state": "unsupported", "reason": "no such mode"}
            return row | state | {"average_fps": "", "low_1pct_rank_fps": ""}
        if here and int(row["session"]) <= 2 and row["pass"] == "2":  # noqa: S105
            return row | {"role": "aborted", "reason": "the title closed"}
        return row

    edit(handed_in / "runs.csv", change)
    waived = [Waiver("too_few_runs", "the aborted run is measured next week")]
    result = admit(study, handed_in, received_on=dt.date(2026, 10, 20), waivers=waived)
    assert result.admitted, result.check.findings
    load_source(study, con)
    left = make_sheet(design, rigs_of(design, cards=["fast"]), progress=progress_of(con, "anna"))
    asked = [
        (held.round, run.workload, run.resolution, run.level)
        for held in left.sessions
        for run in held.runs
        if run.role == "measured"
    ]
    assert asked == [(1, "salt-road", "2560x1440", "x16")]
