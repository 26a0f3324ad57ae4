"""The plan: what is drawn, what is aimed at, what is promised, and its file."""

from __future__ import annotations

import csv
import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import pytest

from rigledger.audit.change import Change
from rigledger.audit.errors import BudgetError, PlanEditedError
from rigledger.audit.frame import Frame, FrameCell
from rigledger.audit.plan import (
    NOT_DRAWN,
    RANDOM,
    TARGETED,
    TOO_NOISY,
    Asked,
    RetestPlan,
    candidate_limits,
    draws_within,
    make_plan,
)
from rigledger.audit.plan_file import PlanRecord, read_plan, write_plan

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

ASKED = Asked("average_fps", runs_per_cell=3, sessions=1, seed="lot 1")
CHANGE = Change((("driver_version", "2.0"),), (("dawn", "1.1"),), dt.date(2026, 10, 20))


def frame(power: float = 0.9, noisy: int = 4) -> Frame:
    """Two rigs, six titles, four resolutions; the first title is too noisy."""
    cells = [
        FrameCell(
            "anna", f"anna.{rig}", f"t{title}", f"{width}x1080", "x16", "anna.stack-0", "1", 3,
            0.5, (0.1 if title == 0 and noisy else power,) * 6,
        )
        for rig in ("one", "two")
        for title in range(6)
        for width in (1280, 1920, 2560, 3840)
    ]  # fmt: skip
    promised = np.array([[0.9] * 6, [0.4] * 6, [0.1] * 6])
    return Frame(tuple(cells), (), promised, (("anna", "declared"),))


def parts(plan: RetestPlan) -> dict[str, int]:
    return {name: len(plan.part(name)) for name in (RANDOM, TARGETED, NOT_DRAWN, TOO_NOISY)}


def test_every_cell_of_the_frame_has_one_part() -> None:
    held = frame()
    plan = make_plan(held, ASKED, 20, [(cell, "wanted") for cell in held.cells], 2)
    assert {RANDOM: 20, TARGETED: 2, NOT_DRAWN: 20, TOO_NOISY: 6} == parts(plan)
    assert (22 * 3, 40) == (plan.runs, len(plan.carried))


def test_a_cell_drawn_at_random_is_never_targeted_too() -> None:
    held = frame()
    drawn = make_plan(held, ASKED, 20).part(RANDOM)
    wanted = [(cell.cell, "wanted") for cell in drawn]
    plan = make_plan(held, ASKED, 20, wanted, 5)
    assert (drawn, ()) == (plan.part(RANDOM), plan.part(TARGETED))


def test_the_targeted_part_doesnt_change_the_random_one() -> None:
    held = frame()
    wanted = [(cell, "wanted") for cell in held.cells]
    without, aimed = make_plan(held, ASKED, 20), make_plan(held, ASKED, 20, wanted, 9)
    assert [cell.cell for cell in without.part(RANDOM)] == [
        cell.cell for cell in aimed.part(RANDOM)
    ]
    assert without.bound_if_none == aimed.bound_if_none


def test_every_rig_and_title_that_can_be_judged_gets_a_cell() -> None:
    plan = make_plan(frame(), ASKED, 20)
    drawn = {cell.stratum for cell in plan.part(RANDOM)}
    assert {f"anna.{rig} / t{title}" for rig in ("one", "two") for title in range(1, 6)} == drawn


def test_a_small_budget_says_that_it_cant_show_the_table_to_stand() -> None:
    small, large = make_plan(frame(), ASKED, 5), make_plan(frame(), ASKED, 35)
    assert (False, True) == (small.can_stand, large.can_stand)
    assert small.bound_if_none > 4 >= large.bound_if_none


def test_limits_keep_any_false_alarm_rarer_than_stated() -> None:
    """Markov: draws x p / (alarms + 1) is the stated rate, whatever hangs together."""
    limits = candidate_limits(40, 0.10)
    assert pytest.approx([0.10] * 6) == list(limits * 40 / np.arange(1, 7))


def test_a_budget_below_one_cell_is_refused() -> None:
    assert (7, 3) == draws_within(30, ASKED, targeted=True)
    with pytest.raises(BudgetError, match="a cell takes 3 runs"):
        draws_within(2, ASKED, targeted=True)


@pytest.fixture
def written(tmp_path: Path) -> tuple[Path, PlanRecord]:
    held = frame()
    plan = make_plan(held, ASKED, 20, [(held.cells[0], "claims rest on it: a, b")], 1)
    record = PlanRecord("link-width", CHANGE, plan)
    write_plan(tmp_path, record)
    return tmp_path, record


def test_a_plan_reads_back_as_it_was_written(written: tuple[Path, PlanRecord]) -> None:
    folder, record = written
    read = read_plan(folder)
    assert record.plan_id == read.plan_id
    assert (record.change, record.plan.asked) == (read.change, read.plan.asked)
    for part in (RANDOM, TARGETED, NOT_DRAWN, TOO_NOISY):
        assert [c.cell.key for c in record.plan.part(part)] == [
            c.cell.key for c in read.plan.part(part)
        ]
    assert [cell.power for cell in record.plan.cells] == [cell.power for cell in read.plan.cells]


def test_the_same_plan_has_the_same_bytes(written: tuple[Path, PlanRecord], tmp_path: Path) -> None:
    folder, record = written
    before = [(folder / name).read_bytes() for name in ("plan.toml", "frame.csv")]
    (tmp_path / "again").mkdir()
    write_plan(tmp_path / "again", record)
    assert before == [
        (tmp_path / "again" / name).read_bytes() for name in ("plan.toml", "frame.csv")
    ]


def swap_part(rows: list[dict[str, str]]) -> int:
    """Put a drawn cell back, as somebody who dislikes it would."""
    place = next(n for n, row in enumerate(rows) if row["part"] == RANDOM)
    rows[place]["part"] = NOT_DRAWN
    return place


def change_lot(rows: list[dict[str, str]]) -> int:
    rows[3]["lot"] = "0" * 64
    return 3


@pytest.mark.parametrize(("edit", "column"), [(swap_part, "part"), (change_lot, "lot")])
def test_an_edited_draw_is_refused_by_row_and_column(
    written: tuple[Path, PlanRecord], edit: Callable[[list[dict[str, str]]], int], column: str
) -> None:
    path = written[0] / "frame.csv"
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    place = edit(rows)
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    with pytest.raises(PlanEditedError) as caught:
        read_plan(written[0])
    stratum = rows[place]["stratum"]
    assert ("frame.csv", column) == (caught.value.file, caught.value.column)
    assert caught.value.row is not None
    assert stratum == rows[caught.value.row - 2]["stratum"]


@pytest.mark.parametrize(
    ("name", "old", "new", "file"),
    [
        ("frame.csv", ",0.9,", ",0.95,", "frame.csv"),
        ("plan.toml", "tolerated_pct = 10.0", "tolerated_pct = 40.0", "plan.toml"),
        ("plan.toml", "[asked]", "[asked", "plan.toml"),
        ("frame.csv", "contributor,rig", "rig,contributor", "frame.csv"),
    ],
)
def test_any_other_edit_is_refused_too(
    written: tuple[Path, PlanRecord], name: str, old: str, new: str, file: str
) -> None:
    path = written[0] / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8", newline="")
    with pytest.raises(PlanEditedError) as caught:
        read_plan(written[0])
    assert (file, True) == (caught.value.file, "restore the plan" in str(caught.value))


def test_a_folder_without_a_plan_is_named(tmp_path: Path) -> None:
    with pytest.raises(PlanEditedError, match=r"plan\.toml"):
        read_plan(tmp_path)
