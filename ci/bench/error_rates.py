"""Error rates of the verdicts by simulation: direction, size, two rounds, false discoveries."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from comparison_rivals import method
from comparison_studies import Plan, Study, draw, draw_runs, join

from rigledger.statistics.comparisons import ComparisonArrays, Settings
from rigledger.statistics.multiplicity import benjamini_hochberg

if TYPE_CHECKING:
    from scoreboard import Scoreboard

EDGES = {"+3 %": float(np.log(1.03)), "-3 %": float(np.log(0.97))}
Rates = dict[str, list[float]]


def _studies(scale: float) -> int:
    return max(8, round(60 * scale))


def _share(verdicts: object, which: str) -> float:
    return float(np.mean(np.asarray(verdicts) == which))


def one_round(board: Scoreboard, scale: float) -> None:
    """Wrong verdicts with one round, passes known and not."""
    board.title("Wrong verdicts, one round")
    for blocks in (False, True):
        known = "passes known" if blocks else "no passes"
        nothing, edge = Plan(blocks=blocks), dict[str, list[ComparisonArrays]]()
        rng = np.random.default_rng([6, blocks])
        # More in a full run: 2.5 % and 2.7 % can't be told apart by 60 studies.
        many = range(_studies(scale) * (4 if scale >= 1 else 1))
        rows = [method(draw(nothing, rng), Settings())[1] for _ in many]
        for verdict in ("gain", "loss"):
            rate = [_share(r.direction, verdict) for r in rows]
            board.report(f"nothing changed, {known}: {verdict}", rate, None, 0.025)
        for name, change in EDGES.items():
            plan = replace(nothing, change=change)
            edge[name] = [method(draw(plan, rng), Settings())[1] for _ in range(_studies(scale))]
            for verdict, most in (("material", 0.025), ("immaterial", 0.05)):
                rate = [_share(r.size, verdict) for r in edge[name]]
                board.report(f"change of {name}, {known}: {verdict}", rate, None, most)


def _two_looks(study: Study, plan: Plan, rng: np.random.Generator) -> Rates:
    """Verdicts a study could publish: at the first look, and after measuring again.

    What isn't settled at the first look is measured again in a second round. A wrong verdict at
    either look counts.
    """
    settings = Settings(rounds_declared=2)
    first = method(study, settings)[1]
    again = np.flatnonzero((first.size == "unsettled") | (first.direction == "not_shown"))
    more = draw_runs(plan, study.sd, study.change, rng, session=1, pairs=again)
    second = method(replace(study, runs=join(study.runs, more)), settings)[1]
    rates: Rates = {}
    for verdict in ("gain", "loss"):
        rates[verdict] = [_either(first.direction, second.direction, verdict)]
    for verdict in ("material", "immaterial"):
        rates[verdict] = [_either(first.size, second.size, verdict)]
    return rates


def _either(first: object, second: object, verdict: str) -> float:
    return float(np.mean((np.asarray(first) == verdict) | (np.asarray(second) == verdict)))


def two_rounds(board: Scoreboard, scale: float) -> None:
    """Wrong verdicts where what isn't settled is measured again, two rounds being declared."""
    board.title("Wrong verdicts at either look, two declared rounds, unsettled ones measured again")
    cases = {"nothing changed": 0.0, **{f"change of {k}": v for k, v in EDGES.items()}}
    for k, (name, change) in enumerate(cases.items()):
        rng = np.random.default_rng([7, k])
        plan = Plan(blocks=True, change=change)
        looks = [_two_looks(draw(plan, rng), plan, rng) for _ in range(_studies(scale))]
        bounds = {"gain": 0.025, "loss": 0.025}
        if change:
            bounds = {"material": 0.025, "immaterial": 0.05}
        for verdict, most in bounds.items():
            board.report(f"{name}: {verdict}", [x[verdict][0] for x in looks], None, most)
    _undeclared(board, scale)


def _undeclared(board: Scoreboard, scale: float) -> None:
    """The same with limits for one look: what goes wrong without declaring rounds."""
    rng = np.random.default_rng([8])
    plan, wrong = Plan(blocks=True), []
    for _ in range(_studies(scale)):
        study = draw(plan, rng)
        first = method(study, Settings())[1]
        again = np.flatnonzero(first.direction == "not_shown")
        more = draw_runs(plan, study.sd, study.change, rng, session=1, pairs=again)
        second = method(replace(study, runs=join(study.runs, more)), Settings())[1]
        wrong.append(_either(first.direction, second.direction, "gain"))
    board.report("for comparison, rounds not declared: gain", wrong)


def false_discoveries(board: Scoreboard, scale: float) -> None:
    """False discovery rate after Benjamini-Hochberg, one comparison in five really changed."""
    board.title("False discoveries among gains and losses after Benjamini-Hochberg at 5 %")
    for blocks in (False, True):
        rng = np.random.default_rng([9, blocks])
        shares, found = [], []
        for _ in range(_studies(scale)):
            study, real = _one_in_five(Plan(blocks=blocks), rng)
            rows = method(study, Settings())[1]
            called = benjamini_hochberg(rows.p_direction) <= 0.05
            shares.append(float(np.sum(called & ~real)) / max(int(called.sum()), 1))
            found.append(float(np.mean(called[real])))
        known = "passes known" if blocks else "no passes"
        note = f"found {np.mean(found):.2f} of the real ones"
        board.report(f"false share, {known}", shares, None, 0.05, note=note)


def _one_in_five(plan: Plan, rng: np.random.Generator) -> tuple[Study, np.ndarray]:
    study = draw(plan, rng)
    real = np.arange(plan.pairs) % 5 == 0
    change = np.where(real, 0.05, 0.0)
    runs = draw_runs(plan, study.sd, change, rng)
    return replace(study, runs=runs, change=change), real
