"""A re-test plan: a random part that carries the bound, a targeted part that carries none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.audit.decide import Tested, bound_of, tolerated_cells
from rigledger.audit.errors import BudgetError
from rigledger.audit.strata import allot, divide, draw

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from rigledger.audit.frame import Frame, FrameCell
    from rigledger.statistics.inputs import FloatArray

RANDOM, TARGETED, NOT_DRAWN, TOO_NOISY = "random", "targeted", "not_drawn", "too_noisy"
FEWEST_POWER = 0.5
"""Cells in which a re-test would miss the shift more often than see it carry no bound."""

TARGETED_SHARE = 0.3
MOST_ALARMS = 6


@dataclass(frozen=True, slots=True)
class Asked:
    """What a plan is asked to do.

    Attributes:
        metric: The metric on which cells are judged.
        runs_per_cell: Runs of each re-tested cell, over its sessions.
        sessions: Sessions over which they are spread.
        shift_pct: The shift to be seen.
        tolerated_pct: Share of the cells that may have moved while the table stands.
        level: Confidence of the bound and of each decision.
        alarm_rate: Most often that a table on which nothing moved is not said to stand.
        seed: Seed of the draw.
    """

    metric: str
    runs_per_cell: int
    sessions: int
    seed: str
    shift_pct: float = 5.0
    tolerated_pct: float = 10.0
    level: float = 0.95
    alarm_rate: float = 0.10


@dataclass(frozen=True, slots=True)
class PlannedCell:
    """A cell of the frame and its part in the plan.

    Attributes:
        power: Chance that the re-test sees it if it moved by the stated shift.
        stratum: Its stratum; blank where it is too noisy to carry a bound.
        part: random, targeted, not_drawn or too_noisy.
        reason: Why it is in the targeted part.
    """

    cell: FrameCell
    power: float
    stratum: str
    part: str
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class RetestPlan:
    """A plan.

    Attributes:
        asked: What was asked.
        cells: The whole frame, ordered by key.
        p_limit: A re-tested cell counts as seen to move where its p is at most this.
        alarms: So many cells seen among the drawn ones still let the table stand.
        promised: Power at each spread of `SPREADS`.
        bound_if_none: Most cells that may have moved if none is seen to.
        can_stand: Whether the table can be shown to stand with this budget.
    """

    asked: Asked
    cells: tuple[PlannedCell, ...]
    p_limit: float
    alarms: int
    promised: tuple[float, ...]
    bound_if_none: int
    can_stand: bool

    def part(self, name: str) -> tuple[PlannedCell, ...]:
        """The cells of one part."""
        return tuple(held for held in self.cells if held.part == name)

    @property
    def carried(self) -> tuple[PlannedCell, ...]:
        """The cells that the bound speaks of."""
        return tuple(held for held in self.cells if held.part != TOO_NOISY and held.stratum)

    @property
    def runs(self) -> int:
        """Measured runs of the plan."""
        tested = len(self.part(RANDOM)) + len(self.part(TARGETED))
        return tested * self.asked.runs_per_cell


@dataclass(frozen=True, slots=True)
class _Offer:
    """One choice of the limit, with the draw that goes with it."""

    alarms: int
    strata: Mapping[str, Sequence[FrameCell]]
    drawn: Mapping[str, int]
    bounds: tuple[int, ...]
    tolerated: int

    @property
    def can_stand(self) -> bool:
        return self.bounds[-1] <= self.tolerated

    def draw_all(self, seed: str) -> set[tuple[str, str, str, str]]:
        """Draw the cells of each stratum."""
        return {
            cell.key
            for name, held in self.strata.items()
            for cell in draw(seed, held, self.drawn[name])
        }


_NO_OFFER = _Offer(0, {}, {}, (0,), -1)
"""Where no cell can carry a bound."""


def candidate_limits(draws: int, alarm_rate: float) -> FloatArray:
    """Limits of p that keep false alarms rare, for 0, 1, 2, ... tolerated ones.

    When nothing moved, the expected number of cells at or below p is draws × p. More than a of them
    come up at most draws × p / (a + 1) of the time, however the cells of a session hang together
    (Markov's inequality; for a = 0 it is Bonferroni's).
    """
    return alarm_rate * (np.arange(MOST_ALARMS) + 1) / draws


def draws_within(runs: int, asked: Asked, *, targeted: bool) -> tuple[int, int]:
    """Share a budget of runs out: cells of the random part, and of the targeted part.

    Raises:
        BudgetError: It doesn't reach for one cell.
    """
    cells = runs // asked.runs_per_cell
    if cells < 1:
        raise BudgetError(
            f"a cell takes {asked.runs_per_cell} runs",
            column="--runs",
            value=str(runs),
            next_step="raise the budget",
        )
    aimed = min(round(cells * TARGETED_SHARE), cells - 1) if targeted else 0
    return cells - aimed, aimed


def make_plan(
    frame: Frame,
    asked: Asked,
    draws: int,
    wanted: Sequence[tuple[FrameCell, str]] = (),
    aimed: int = 0,
) -> RetestPlan:
    """Plan a re-test.

    Args:
        frame: The frame; its powers stand at the `candidate_limits` of the draws.
        asked: What the plan is to do.
        draws: Cells of the random part, at least 1.
        wanted: Cells worth a look of their own with the reason, the most wanted first.
        aimed: Cells of the targeted part.
    """
    offer = _choose(frame, asked, draws) or _NO_OFFER
    at, drawn = offer.alarms, offer.draw_all(asked.seed)
    # What the random part can't use is left to the targeted one.
    open_to = {cell.key: why for cell, why in wanted if cell.key not in drawn}
    aims = dict(list(open_to.items())[: aimed + draws - len(drawn)])
    stratum_of = {cell.key: name for name, held in offer.strata.items() for cell in held}
    cells = (
        _planned(cell, cell.power[at], stratum_of.get(cell.key, ""), drawn, aims)
        for cell in frame.cells
    )
    return RetestPlan(
        asked=asked,
        cells=tuple(cells),
        p_limit=float(candidate_limits(draws, asked.alarm_rate)[at]),
        alarms=at,
        promised=tuple(round(float(row[at]), 4) for row in frame.promised),
        bound_if_none=offer.bounds[0],
        can_stand=offer.can_stand,
    )


def _planned(
    cell: FrameCell,
    power: float,
    stratum: str,
    drawn: set[tuple[str, str, str, str]],
    aims: Mapping[tuple[str, str, str, str], str],
) -> PlannedCell:
    if cell.key in drawn:
        return PlannedCell(cell, power, stratum, RANDOM)
    if cell.key in aims:
        return PlannedCell(cell, power, stratum, TARGETED, aims[cell.key])
    return PlannedCell(cell, power, stratum, NOT_DRAWN if stratum else TOO_NOISY)


def _choose(frame: Frame, asked: Asked, draws: int) -> _Offer | None:
    """Take the fewest tolerated alarms with which the table can stand; else none tolerated."""
    first: _Offer | None = None
    for alarms in range(MOST_ALARMS):
        offer = _offer(frame, asked, draws, alarms)
        if offer is None:
            continue
        first = first or offer
        if offer.can_stand:
            return offer
    return first


def _offer(frame: Frame, asked: Asked, draws: int, alarms: int) -> _Offer | None:
    carried = [cell for cell in frame.cells if cell.power[alarms] >= FEWEST_POWER]
    if not carried:
        return None
    strata = divide(carried, min(draws, len(carried)))
    drawn = allot({name: len(held) for name, held in strata.items()}, draws)
    tolerated = tolerated_cells(len(carried), asked.tolerated_pct)
    bounds = []
    for seen in range(alarms + 1):
        cells = _imagined(strata, drawn, alarms, seen)
        bounds.append(bound_of(cells, level=asked.level).at_most)
        if bounds[-1] > tolerated:
            break
    return _Offer(alarms, strata, drawn, tuple(bounds), tolerated)


def _imagined(
    strata: Mapping[str, Sequence[FrameCell]], drawn: Mapping[str, int], at: int, seen: int
) -> list[Tested]:
    """The frame after a re-test in which so many drawn cells were seen to move."""
    cells = []
    for name, held in strata.items():
        for place, cell in enumerate(held):
            tested = place < drawn[name]
            found = tested and seen > 0
            seen -= found
            cells.append(Tested(name, cell.rig, cell.workload, cell.power[at], tested, found))
    return cells
