"""Coverage of the difference between two rigs, title by title and over all titles they share."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from comparison_studies import BASE
from session_studies import draw_sessions
from title_means import CASES

from rigledger.statistics.comparisons import analyse

if TYPE_CHECKING:
    from comparison_studies import FloatArray
    from scoreboard import Scoreboard
    from session_studies import SessionPlan

    from rigledger.statistics.comparisons import CellStatistics, Settings


def rig_differences(board: Scoreboard, scale: float) -> None:
    """Rigs in pairs, ten titles each, one level; nothing differs but their boots and runs."""
    board.title("Difference between two rigs, nothing differs: coverage")
    for k, (name, (plan, settings)) in enumerate(CASES.items()):
        for common in (True, False) if plan.ratio else (False,):
            rng = np.random.default_rng([12, k, common])
            case = replace(plan, common=common)
            marks = [_marks(case, settings, rng) for _ in range(max(4, round(30 * scale)))]
            moved = "all titles at once" if common else "each title by itself"
            board.report(f"{name}, boots move {moved}: a title", [m[0] for m in marks], 0.93)
            board.report(f"{name}, boots move {moved}: all-shared", [m[1] for m in marks], 0.93)


def _marks(plan: SessionPlan, settings: Settings, rng: np.random.Generator) -> tuple[float, float]:
    """Shares of the titles, and of the pairs of rigs, whose interval holds zero."""
    study = draw_sessions(plan, rng)
    cells = analyse(study.runs, study.cells, study.pairs, settings).cells
    first = study.pairs.from_cell.reshape(plan.rigs, -1)
    ln = np.log(cells.geometric_mean[first]) - BASE
    run, boot = _squares(cells, first)
    boot_common = float(cells.boot_common[0])
    apart, mean = np.abs(ln[::2] - ln[1::2]), np.abs(ln[::2].mean(axis=1) - ln[1::2].mean(axis=1))
    single = np.sqrt((run + boot)[::2] + (run + boot)[1::2])
    each = (run + (1 - boot_common) * boot).sum(axis=1)
    each += boot_common * np.sqrt(boot).sum(axis=1) ** 2
    over_all = np.sqrt(each[::2] + each[1::2]) / first.shape[1]
    return float(np.mean(apart <= single)), float(np.mean(mean <= over_all))


def _squares(cells: CellStatistics, places: object) -> tuple[FloatArray, FloatArray]:
    """Squared half-widths of the runs' and of the boots' part, as work/cell_bounds.sql has them."""
    squares = cells.ln_half_over_boots**2
    boot = squares * cells.boot_share
    return (squares - boot)[places], boot[places]
