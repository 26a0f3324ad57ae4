"""Moderated variances and t (Smyth 2004, Phipson et al. 2016) as the original program gives them.

Numbers: values/moderated-*.toml. The independent implementation is InMoose's port of the original.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from rigledger.statistics.moderation import fit_prior, moderate, moderated_t
from rigledger.statistics.moderation_robust import fit_robust_prior
from rigledger.statistics.multiplicity import benjamini_hochberg

if TYPE_CHECKING:
    from collections.abc import Callable

    Load = Callable[[str], dict[str, Any]]
    Compare = Callable[..., None]

ITERATED = 1e-8
CASES = ["df5", "df_mixed", "df2_infinite", "df5_trend", "df2_trend"]


def fitted(inputs: dict[str, Any], s2: list[float]) -> tuple[Any, Any]:
    variance = np.array(s2)
    df = np.broadcast_to(np.asarray(inputs["df"], dtype=float), variance.shape)
    covariate = inputs.get("covariate")
    if "covariate_ln_of" in inputs:
        covariate = np.log(inputs["covariate_ln_of"])
    prior = fit_prior(variance, df, None if covariate is None else np.asarray(covariate, float))
    return prior, moderate(variance, df, prior)


def compare_case(expected: dict[str, Any], result: tuple[Any, Any], as_printed: Compare) -> None:
    prior, posterior = result
    level = prior.variance if isinstance(expected["s2_0"], list) else prior.variance[0]
    if expected["d0"] == "Inf":
        assert np.isinf(prior.df).all()
    else:
        as_printed(expected["d0"], prior.df[0], relative=ITERATED)
    as_printed(expected["s2_0"], level, relative=ITERATED)
    as_printed(expected["posterior"], posterior, relative=ITERATED)


@pytest.mark.parametrize("name", ["moderated-variance-three", "moderated-variance-trend-six"])
def test_prior_and_posterior_of_few_values_are_as_printed(
    published: Load, as_printed: Compare, name: str
) -> None:
    check = published(name)
    result = fitted(check["inputs"], check["inputs"]["s2"])
    compare_case(check["expected"], result, as_printed)
    as_printed(check["expected"]["printed_posterior"], result[1])


@pytest.mark.parametrize("case", CASES)
def test_mixed_infinite_and_trended_priors_are_as_printed(
    published: Load, as_printed: Compare, case: str
) -> None:
    check = published("moderated-variance-twelve")
    result = fitted(check["inputs"][case], check["inputs"]["s2"])
    compare_case(check["expected"][case], result, as_printed)


def test_robust_prior_spares_regular_cells_and_leaves_outliers_nearly_as_measured(
    published: Load, as_printed: Compare
) -> None:
    check = published("moderated-variance-robust-26")
    s2, df = np.array(check["inputs"]["s2"]), float(check["inputs"]["df"])
    robust = fit_robust_prior(s2, df, tuple(check["inputs"]["winsor_tail_p"]))
    expected = check["expected"]["robust"]
    # The original finds d0 by a root search that stops at 1e-8 of d0 / (1 + d0).
    as_printed(expected["d0_common"], robust.common_df, relative=1e-6)
    as_printed(expected["d0_outlier"], robust.outlier_df, relative=1e-6)
    as_printed(expected["s2_0"], robust.prior.variance[0], relative=1e-6)
    as_printed(expected["d0"], robust.prior.df, relative=1e-6)
    as_printed(expected["tail_p"], robust.tail_p, relative=1e-6)
    as_printed(expected["posterior"], moderate(s2, df, robust.prior), relative=1e-6)


def test_plain_prior_of_the_same_values_is_spoilt_by_the_two_outliers(
    published: Load, as_printed: Compare
) -> None:
    check = published("moderated-variance-robust-26")
    expected = check["expected"]["non_robust"]
    compare_case(expected, fitted(check["inputs"], check["inputs"]["s2"]), as_printed)


def test_the_whole_chain_from_runs_to_intervals_is_as_printed(
    published: Load, as_printed: Compare
) -> None:
    check = published("moderated-t-six-cells")
    off, on = (np.log(check["inputs"][side]) for side in ("baseline", "other"))
    s2 = (off.var(axis=1, ddof=1) + on.var(axis=1, ddof=1)) / 2
    df = np.full(len(s2), 4.0)
    prior = fit_prior(s2, df)
    change = on.mean(axis=1) - off.mean(axis=1)
    test = moderated_t(change, np.full(len(s2), 2 / 3), s2, df, prior)
    expected = check["expected"]
    as_printed(expected["s2"], s2)
    as_printed(expected["log_ratio"], change, relative=1e-9)
    as_printed(expected["posterior"], moderate(s2, df, prior), relative=ITERATED)
    as_printed(expected["df_total"], test.df[0], relative=ITERATED)
    as_printed(expected["t"], test.t, relative=ITERATED)
    as_printed(expected["p"], test.p, relative=1e-7)
    as_printed(expected["p_BH"], benjamini_hochberg(test.p), relative=1e-7)
    as_printed(expected["ci95_low"], change - test.half_width, relative=ITERATED)
    as_printed(expected["ci95_high"], change + test.half_width, relative=ITERATED)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("df", [2.0, 4.0])
def test_prior_agrees_with_an_independent_implementation(seed: int, df: float) -> None:
    from inmoose.limma import fitFDist

    rng = np.random.default_rng(seed)
    s2 = np.exp(rng.normal(0, 1.2, 60)) * rng.chisquare(df, 60) / df
    other = fitFDist(s2, df)
    prior = fit_prior(s2, np.full(60, df))
    np.testing.assert_allclose(
        [prior.variance[0], prior.df[0]], [other["scale"], other["df2"]], rtol=1e-9
    )
