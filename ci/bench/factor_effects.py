"""How often factor effects are flagged where there are none, and where there is one.

Prints, for each law of spread, the share of p values below 5 % under the null, beside the plain
chi-square reference and beside the same test without moderation; then the power against a
planted crossing. Exits 1 if a calibrated rate leaves 4 to 6 % (two simulation errors allowed) or
the power falls short of 80 %.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass, replace

import numpy as np
from results import Figure, Results, asked
from scipy import stats
from session_studies import SessionPlan, draw_sessions
from simulated_cells import Law, Study, analysed, draw
from title_means import CASES

from rigledger.statistics.comparisons import Settings, analyse
from rigledger.statistics.factor_effects import FactorEffects, factor_effects
from rigledger.statistics.small_sample import matched_student

EFFECTS = ("platform", "card", "platform_x_card", "rig")
PLANTED = float(np.log(1.10))

# name, law, judged. Unkind cases are printed, not judged.
NULLS = (
    ("spread 0.7 / 0.3", Law(between=0.7, within=0.3), True),
    ("spread 1.2 / 0.4", Law(), True),
    ("spread 1.5 / 0.7", Law(between=1.5, within=0.7), True),
    ("spread 1.8 / 1.0", Law(between=1.8, within=1.0), True),
    ("one spread for all", Law(between=0.0, within=0.0), True),
    ("rigs differ too", Law(rigs=0.5), True),
    ("2 x 2 rigs", Law(platforms=2, workloads=60), True),
    ("5 x 4 rigs", Law(platforms=5, cards=4, workloads=12), True),
    ("4 runs", Law(runs=4), True),
    ("5 runs", Law(runs=5), True),
    ("whole fps", Law(step=1.0), False),
    ("t4 errors", Law(tails=4.0), False),
)
POWERS = (
    ("2 % everywhere", Law(between=0.0, within=0.0), True),
    ("2 %, cells differ by 0.3", Law(between=0.0, within=0.3), False),
    ("2 %, cells differ by 0.7", Law(between=0.0, within=0.7), False),
)
QUICK_NULLS = ("spread 1.2 / 0.4", "spread 1.8 / 1.0", "2 x 2 rigs", "5 x 4 rigs")


@dataclass(frozen=True)
class Rates:
    """Shares of p values below 5 %, one row per study, one column per effect."""

    moderated: np.ndarray
    plain: np.ndarray
    unmoderated: np.ndarray
    flags: np.ndarray


def judged(study: Study, law: Law) -> list[FactorEffects]:
    """Factor effects from the pipeline's own intervals."""
    rows = analysed(study)
    # The upper ends: in per cent the lower end of a hopelessly noisy cell rounds to -100.
    halves = [np.log1p(high / 100) - rows.ln_change for high in (rows.high90, rows.high95)]
    variance, df = matched_student(*halves)
    shape = (law.workloads, law.platforms, law.cards)
    return factor_effects(rows.ln_change.reshape(shape), variance.reshape(shape), df.reshape(shape))


def own_variances(study: Study, law: Law) -> list[FactorEffects]:
    """The same test on each pair's own variances, with Welch's degrees of freedom."""
    y = study.ln.reshape(-1, 2, law.runs)
    change = y.mean(axis=2)[:, 1] - y.mean(axis=2)[:, 0]
    parts = np.maximum(y.var(axis=2, ddof=1), 1e-12) / law.runs
    df = parts.sum(axis=1) ** 2 / (parts**2 / (law.runs - 1)).sum(axis=1)
    shape = (law.workloads, law.platforms, law.cards)
    return factor_effects(
        change.reshape(shape), parts.sum(axis=1).reshape(shape), df.reshape(shape)
    )


def paired_q(study: Study, law: Law) -> float:
    """Plain Cochran Q over all rigs where runs are paired and the variance has n - 1 df."""
    y = study.ln.reshape(law.workloads, -1, 2, law.runs)
    pairs = y[:, :, 1] - y[:, :, 0]
    variance = np.maximum(pairs.var(axis=2, ddof=1), 1e-12) / law.runs
    change, weight = pairs.mean(axis=2), 1 / variance
    centre = (weight * change).sum(axis=1, keepdims=True) / weight.sum(axis=1, keepdims=True)
    q = (weight * (change - centre) ** 2).sum(axis=1)
    return float(np.mean(stats.chi2.sf(q, change.shape[1] - 1) < 0.05))


def measure(law: Law, studies: int, seed: int) -> tuple[Rates, float]:
    """Draws null studies; returns the rates and the paired plain Q's."""
    rng = np.random.default_rng(seed)
    rows: list[list[list[float]]] = []
    paired = []
    for _ in range(studies):
        study = draw(rng, law)
        found, own = judged(study, law), own_variances(study, law)
        rows.append(
            [
                [_share(found, name, "p") for name in EFFECTS],
                [_share(own, name, "plain_p") for name in EFFECTS],
                [_share(own, name, "p") for name in EFFECTS],
                [float(np.mean([getattr(x, name).flag for x in found])) for name in EFFECTS],
            ]
        )
        paired.append(paired_q(study, law))
    return Rates(*np.swapaxes(np.array(rows), 0, 1)), float(np.mean(paired))


def _share(found: list[FactorEffects], name: str, field: str) -> float:
    return float(np.mean([getattr(getattr(x, name), field) < 0.05 for x in found]))


def with_true_spreads(study: Study, law: Law) -> list[FactorEffects]:
    """The same test with the cells' true spreads: the most that any weighting could do."""
    mean = study.ln.mean(axis=1).reshape(-1, 2)
    variance = (study.sigma.reshape(-1, 2) ** 2).sum(axis=1) / law.runs
    shape = (law.workloads, law.platforms, law.cards)
    change = (mean[:, 1] - mean[:, 0]).reshape(shape)
    return factor_effects(change, variance.reshape(shape), np.full(shape, np.inf))


def power(law: Law, studies: int, seed: int) -> tuple[np.ndarray, int]:
    """Share of planted crossings (one rig of each workload 10 % apart) that are flagged."""
    rng = np.random.default_rng(seed)
    hits = []
    for _ in range(studies):
        clean = draw(rng, law)
        moved = (clean.rig == 1) & (clean.level == 1)
        fps = clean.fps * np.exp(PLANTED * moved)[:, None]
        planted = replace(clean, fps=fps)
        known = with_true_spreads(planted, law)
        hits += [
            (
                x.platform_x_card.flag, x.rig.flag, bool(x.rig.apart[0, 1]), x.scope == "rig",
                best.platform_x_card.flag,
            )
            for x, best in zip(judged(planted, law), known, strict=True)
            if x.platform_x_card and x.rig and best.platform_x_card
        ]  # fmt: skip
    return np.mean(hits, axis=0), len(hits)


def print_nulls(results: Results) -> None:
    """Prints the table of null rates; alone they are judged in a full run only."""
    quick = results.quick
    chosen = [row for row in NULLS if not quick or row[0] in QUICK_NULLS]
    print("Share of p < 0.05 when nothing depends on anything (nominal 5 %, wanted 4 to 6 %)")
    print("columns: platform / card / platform x card / any difference between rigs, in percent\n")
    print(
        f"{'law of spread':20} {'rigledger':27} {'plain chi-square':24} {'no moderation':24} "
        f"{'Q, paired':>9} {'flags (beyond 3 %)':22}"
    )
    pooled = []
    for seed, (name, law, counts) in enumerate(chosen):
        rates, paired = measure(law, 4 if quick else 40, seed)
        error = rates.moderated.std(axis=0, ddof=1) / len(rates.moderated) ** 0.5
        rate = rates.moderated.mean(axis=0)
        print(
            f"{name:20} {_four(rate)} ±{100 * error.mean():3.1f} {_four(rates.plain.mean(0)):>24} "
            f"{_four(rates.unmoderated.mean(0)):>24} {100 * paired:9.1f} "
            f"{_four(rates.flags.mean(0)):>22}",
            flush=True,
        )
        _keep_nulls(results, name, rate, error, judging=counts and not quick)
        if counts:
            pooled.append(rates.moderated)
    everything = np.concatenate(pooled)
    rate = everything.mean(axis=0)
    error = everything.std(axis=0, ddof=1) / len(everything) ** 0.5
    print(f"\nall judged laws together: {_four(rate)}, simulation error ±{_four(error)}")
    _keep_nulls(results, "all judged laws together", rate, error, judging=True)


def _keep_nulls(
    results: Results, law: str, rate: np.ndarray, error: np.ndarray, *, judging: bool
) -> None:
    """Keeps the rates of one law; any difference between rigs is reported only."""
    for effect, share, room in zip(EFFECTS, rate, 2 * error, strict=True):
        least, most = (0.04, 0.06) if judging and effect != "rig" else (None, None)
        name = f"p < 5 % where nothing differs, {law}: {effect}"
        results.keep(Figure(name, float(share), "share", most, least=least, room=float(room)))


def _four(shares: np.ndarray) -> str:
    return " /".join(f"{100 * share:5.1f}" for share in shares)


def print_powers(results: Results) -> None:
    """Prints the table of powers; the judged one has to reach 80 %."""
    print("\nPlanted: one rig of 4 x 2 changes by 10 %, three runs (wanted: found at least 80 %)")
    print("The last column is the crossing where the true spread of every cell is known.")
    titles = ("crossing", "any rig", "that rig", "scope rig", "known")
    print(f"{'spread':28} " + " ".join(f"{title:>8}" for title in titles))
    for seed, (name, law, counts) in enumerate(POWERS):
        share, count = power(law, 4 if results.quick else 20, 100 + seed)
        print(f"{name:28} " + " ".join(f"{100 * x:7.1f}%" for x in share) + f"   of {count}")
        # The strictest way to read it: platform x card flag against its own simulation error.
        least, room = 0.80 if counts else None, 2 * (0.8 * 0.2 / count) ** 0.5
        found = f"planted crossing found, {name}"
        results.keep(Figure(found, float(share[0]), "share", least=least, room=room))


def print_sessions(results: Results) -> None:
    """Prints the null rates where each level has boots of its own; reported, not judged."""
    print("\nThe same, levels in separate sessions, session sd equal to run sd (reported)")
    for seed, (name, (plan, settings)) in enumerate(CASES.items()):
        rng = np.random.default_rng([200, seed])
        rates = [_session_rates(plan, settings, rng) for _ in range(8 if results.quick else 40)]
        rate, error = np.mean(rates, axis=0), np.std(rates, axis=0, ddof=1) / len(rates) ** 0.5
        print(f"{name:46} {_four(rate)} ±{100 * error.mean():3.1f}", flush=True)
        _keep_nulls(results, f"separate sessions, {name}", rate, error, judging=False)


def _session_rates(
    plan: SessionPlan, settings: Settings, rng: np.random.Generator
) -> tuple[float, ...]:
    """Shares of p below 5 % over ten workloads, eight rigs being four platforms by two cards."""
    study = draw_sessions(plan, rng)
    rows = analyse(study.runs, study.cells, study.pairs, settings).comparisons
    halves = [np.log1p(high / 100) - rows.ln_change for high in (rows.high90, rows.high95)]
    grids = [
        held.reshape(plan.rigs, -1).T.reshape(-1, 4, 2)
        for held in (rows.ln_change, *matched_student(*halves))
    ]
    found = factor_effects(*grids)
    return tuple(_share(found, name, "p") for name in EFFECTS)


def main() -> int:
    """Runs both parts; 1 when a wanted figure is missed."""
    given = asked(__doc__, "fewer studies and laws")
    began, results = time.perf_counter(), Results("factor_effects", given.quick)
    print_nulls(results)
    print_powers(results)
    print_sessions(results)
    short = results.short
    print(f"\n{'FALLS SHORT' if short else 'as wanted'}; {time.perf_counter() - began:.0f} s")
    return results.close(given.json)


if __name__ == "__main__":
    sys.exit(main())
