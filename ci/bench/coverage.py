"""Coverage, width and error rates of the comparisons, beside oracle and Welch, by simulation.

Run it as ``python ci/bench/coverage.py`` (a few minutes) or with ``--quick`` (under 50 s). Every
study is seeded. It exits with 1 if a figure falls outside its bound by more than the error of the
simulation explains. The quick run has too few studies to judge narrow bounds; the full one does.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace

import numpy as np
from comparison_rivals import (
    Intervals,
    closed_form,
    method,
    oracle,
    pooled,
    welch,
)
from comparison_studies import Plan, Study, draw
from error_rates import false_discoveries, one_round, two_rounds
from results import Results, asked
from rig_differences import rig_differences
from scoreboard import Scoreboard
from session_studies import SessionPlan, draw_sessions
from title_means import title_means

from rigledger.statistics.comparisons import Settings

LAWS = ((0.7, 0.3), (1.2, 0.4), (1.5, 0.7), (1.8, 1.0))
PLAIN = Settings()


def main() -> int:
    """Run all sections."""
    given = asked(__doc__, "fewer studies, under 50 s")
    start, board = time.perf_counter(), Scoreboard(Results("coverage", given.quick))
    scale = 0.1 if given.quick else 1.0
    normal_errors(board, scale, quick=given.quick)
    pass_effects(board, scale)
    crossed_spread(board, scale)
    unkind(board, scale)
    sessions(board, scale)
    title_means(board, scale)
    rig_differences(board, scale)
    one_round(board, scale)
    two_rounds(board, scale)
    false_discoveries(board, scale)
    print(f"\n{time.perf_counter() - start:.0f} s")
    return board.end(given.json)


def count(studies: int, scale: float, least: int = 4) -> int:
    """How many studies to draw."""
    return max(least, round(studies * scale))


def _generator(*key: float) -> np.random.Generator:
    return np.random.default_rng([round(1000 * number) for number in key])


def normal_errors(board: Scoreboard, scale: float, *, quick: bool) -> None:
    """Normal errors, the four laws of spread, three sizes of study, three to five runs."""
    board.title("Normal errors, groups of 6 cells: method against oracle and Welch")
    cases = [(pairs, 3, law) for pairs in (24, 108, 240) for law in LAWS]
    cases += [(108, n, law) for n in (4, 5) for law in LAWS]
    if quick:
        cases = [(108, 3, law) for law in LAWS] + [(24, 3, LAWS[0]), (24, 3, LAWS[3])]
    for pairs, n, (between, within) in cases:
        plan = Plan(pairs=pairs, runs=n, between=between, within=within)
        label = f"{pairs} comparisons, n = {n}, sds {between} / {within}"
        studies = count(6000 / pairs, scale, 6)
        rng = _generator(pairs, n, between, within)
        _normal_case(board, label, [draw(plan, rng) for _ in range(studies)])


def _normal_case(board: Scoreboard, label: str, studies: list[Study]) -> None:
    rows = [(method(s, PLAIN)[0], oracle(s, PLAIN), welch(s), s) for s in studies]
    board.report(f"{label}: coverage", [_cover(r[0], r[3]) for r in rows], 0.94, 0.96)
    relative = [float(np.median(r[0].half / r[1].half)) for r in rows]
    board.report(f"{label}: median width / oracle's", relative, None, 1.03)
    against = [float(np.median(r[1].half / r[2].half)) for r in rows]
    mine = [float(np.median(r[0].half / r[2].half)) for r in rows]
    note = f"oracle {np.mean(against):.3f}"
    board.report(f"{label}: median width / Welch's", mine, note=note)
    for fifth, name in ((0, "quietest"), (4, "noisiest")):
        pairs = [(_fifth(r[0], r[3], fifth), _fifth(r[1], r[3], fifth)) for r in rows]
        note = f"method {np.mean([a for a, _ in pairs]):.3f}"
        gap = [a - b for a, b in pairs]
        board.report(f"{label}: {name} fifth, coverage - oracle's", gap, -0.015, 0.015, note=note)


def _cover(interval: Intervals, study: Study) -> float:
    return float(interval.covers(study.change).mean())


def _fifth(interval: Intervals, study: Study, which: int) -> float:
    """Coverage in one fifth of the comparisons, by their true spread."""
    sd = np.hypot(study.sd[::2], study.sd[1::2])
    order = np.argsort(np.argsort(sd)) * 5 // len(sd)
    return float(interval.covers(study.change)[order == which].mean())


def pass_effects(board: Scoreboard, scale: float) -> None:
    """Levels that share passes: blocked against unblocked."""
    board.title("Pass effects: share of the variance common to a pass; against not knowing passes")
    for share, widest in ((0.0, 1.03), (0.3, None), (0.5, 0.80), (0.7, None)):
        plan = Plan(pass_share=share, blocks=True)
        rng = _generator(2, share)
        inside, ratio, plain = [], [], []
        for _ in range(count(40, scale, 6)):
            study = draw(plan, rng)
            blocked = method(study, PLAIN)[0]
            unblocked = method(_without_passes(study), PLAIN)[0]
            inside.append(_cover(blocked, study))
            plain.append(_cover(unblocked, study))
            ratio.append(float(np.median(blocked.half / unblocked.half)))
        note = f"unblocked {np.mean(plain):.3f}"
        board.report(f"share {share}: coverage", inside, 0.94, 0.96, note=note)
        board.report(f"share {share}: median width / unblocked", ratio, None, widest)


def _without_passes(study: Study) -> Study:
    passes = np.full_like(study.runs.pass_index, -1)
    return replace(study, runs=replace(study.runs, pass_index=passes))


def crossed_spread(board: Scoreboard, scale: float) -> None:
    """Crossed effects on spread: the crossed model against one grouped by workload."""
    board.title("Crossed effects on spread (workload 0.7, rig 0.5, resolution 0.4, level 0.2)")
    plan = Plan(crossed=(0.5, 0.4, 0.2))
    rng = _generator(3)
    results = []
    for _ in range(count(40, scale, 6)):
        study = draw(plan, rng)
        groups = {"workload": study.cells.factors["workload"]}
        grouped = replace(study, cells=replace(study.cells, factors=groups))
        mine, by_workload = method(study, PLAIN)[0], method(grouped, PLAIN)[0]
        results.append((mine, by_workload, oracle(study, PLAIN), study))
    board.report("crossed model: coverage", [_cover(r[0], r[3]) for r in results], 0.94, 0.96)
    board.report("grouped by workload: coverage", [_cover(r[1], r[3]) for r in results])
    gain = [float(np.median(r[0].half / r[1].half)) for r in results]
    board.report("median width / grouped by workload", gain, None, 1.0)
    gap = [float(np.median(r[0].half / r[2].half)) for r in results]
    board.report("median width / oracle's", gap, None, 1.03)
    for fifth, name in ((0, "quietest"), (4, "noisiest")):
        note = f"grouped {np.mean([_fifth(r[1], r[3], fifth) for r in results]):.3f}"
        board.report(
            f"{name} fifth: coverage", [_fifth(r[0], r[3], fifth) for r in results], note=note
        )


UNKIND = {
    "two-humped spread": Plan(humps=1.6),
    "Student's t4 errors": Plan(errors="t4"),
    "5 % of runs spoiled": Plan(errors="spoiled"),
    "drift of two sds over the passes, passes known": Plan(drift=2.0, blocks=True),
    "drift of two sds over the passes, passes unknown": Plan(drift=2.0),
    "rounded to 0.1 fps": Plan(step=0.1),
    "whole-number fps": Plan(step=1.0),
    "whole-number fps, spread 0.2 %": Plan(step=1.0, median_sd=0.002),
    "half the titles capped": Plan(cap=144.0),
}


def unkind(board: Scoreboard, scale: float) -> None:
    """Unkind cases: reported, beside Welch and closed-form moderation."""
    board.title("Unkind cases: coverage (reported; others tried beside it)")
    for k, (name, plan) in enumerate(UNKIND.items()):
        rng = _generator(4, k)
        studies = [draw(plan, rng) for _ in range(count(24, scale))]
        others = (
            f"welch {_mean_cover(studies, 'welch')}, "
            f"global prior {_mean_cover(studies, 'global')}, "
            f"prior per workload {_mean_cover(studies, 'workload')}, "
            f"pooled {_mean_cover(studies, 'pooled')}"
        )
        board.report(name, [_cover(method(s, PLAIN)[0], s) for s in studies], note=others)


def _mean_cover(studies: list[Study], which: str) -> str:
    try:
        return f"{np.mean([_cover(_rival(s, which), s) for s in studies]):.3f}"
    except ValueError:
        return "fails (no spread)"


def _rival(study: Study, which: str) -> Intervals:
    if which == "welch":
        return welch(study)
    if which == "pooled":
        return pooled(study)
    return closed_form(study, per_workload=which == "workload")


def sessions(board: Scoreboard, scale: float) -> None:
    """A level needs a session of its own: with sentinels, with rounds, declared, with nothing."""
    board.title("Session effects, levels in separate sessions (8 rigs): coverage")
    for ratio in (0.5, 1.0):
        for common in (False, True):
            kind = "common to the session" if common else "by cell"
            cases = _session_cases(SessionPlan(ratio=ratio, common=common))
            for k, (name, (plan, settings, least)) in enumerate(cases.items()):
                rng = _generator(5, ratio, common, k)
                studies = [draw_sessions(plan, rng) for _ in range(count(40, scale, 8))]
                label = f"session sd {ratio} × run sd, {kind}: {name}"
                inside = [_cover(method(s, settings)[0], s) for s in studies]
                board.report(label, inside, least)


def _session_cases(base: SessionPlan) -> dict[str, tuple[SessionPlan, Settings, float | None]]:
    """How a study may know what a session changes, and the least coverage then."""
    alike = replace(base, proportional=False)
    declared = Settings(session_spread_pct=100.0 * base.ratio * 0.01)
    return {
        "sentinels": (base, PLAIN, 0.93),
        "sentinels, session sd the same in all cells": (alike, PLAIN, 0.93),
        "two rounds": (replace(base, rounds=2, sentinels=False), PLAIN, 0.93),
        "truly declared": (replace(alike, sentinels=False), declared, 0.93),
        "nothing measured or declared (no verdict is given)": (
            replace(base, sentinels=False),
            PLAIN,
            None,
        ),
    }


if __name__ == "__main__":
    sys.exit(main())
