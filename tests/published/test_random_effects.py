"""Random-effects meta-analysis against numbers printed by R's metafor and by the papers.

values/meta-bcg-*.toml: BCG vaccine trials (Colditz et al. 1994; van Houwelingen et al. 2002);
values/meta-collins-preeclampsia.toml: Viechtbauer (2007), Table II;
values/meta-paule-mandel-cadmium.toml: Paule and Mandel (1982).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from rigledger.statistics.random_effects import heterogeneity, pool, tau2, tau2_interval

STUDIES = (
    "meta-bcg-log-risk-ratio",
    "meta-bcg-log-odds-ratio",
    "meta-collins-preeclampsia",
    "meta-paule-mandel-cadmium",
)
ESTIMATORS = ("DL", "PM", "REML", "ML")
# The source's iterations leave the last of ten digits uncertain; ML is printed to eight.
DIGITS = {"DL": 1e-9, "PM": 2e-9, "REML": 2e-8, "ML": 2e-7}

if TYPE_CHECKING:
    from collections.abc import Callable


def effects(check: dict[str, Any]) -> tuple[Any, Any]:
    """Effects and variances from the 2 x 2 counts by the formula in the file, or as given."""
    inputs = check["inputs"]
    if "yi" in inputs:
        return np.array(inputs["yi"]), np.array(inputs["vi"])
    a, b, c, d = (
        np.array(inputs[f"{arm}_{outcome}"], dtype=float)
        for arm in ("treated", "control")
        for outcome in ("positive", "negative")
    )
    if "risk" in inputs["measure"]:
        y = np.log((a / (a + b)) / (c / (c + d)))
        return y, 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)
    return np.log(a * d / (b * c)), 1 / a + 1 / b + 1 / c + 1 / d


@pytest.mark.parametrize("study", STUDIES)
def test_effects_from_counts_are_as_printed(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], study: str
) -> None:
    check = published(study)
    y, v = effects(check)
    as_printed(check["expected"]["effects"]["yi"], y, relative=1e-9)
    as_printed(check["expected"]["effects"]["vi"], v, relative=1e-9)


@pytest.mark.parametrize("study", STUDIES)
def test_cochran_q_is_as_printed(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], study: str
) -> None:
    check = published(study)
    printed = check["expected"]["heterogeneity"]
    q = heterogeneity(*effects(check))
    assert int(printed["Q_df"]) == q.df
    as_printed([printed["Q"], printed["Q_p"]], [q.q, q.p], relative=1e-9)


@pytest.mark.parametrize("study", STUDIES)
def test_the_equal_effects_mean_is_as_printed(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], study: str
) -> None:
    check = published(study)
    printed = check["expected"]["equal_effects"]
    pooled = pool(*effects(check), estimator="equal_effects", hartung_knapp=False)
    as_printed(
        [printed["mu"], printed["se"], *printed["ci95"]],
        [pooled.mean, pooled.standard_error, pooled.lower, pooled.upper],
        relative=1e-9,
    )


@pytest.mark.parametrize("study", STUDIES)
@pytest.mark.parametrize("estimator", ESTIMATORS)
def test_each_estimator_gives_the_printed_figures(
    published: Callable[[str], dict[str, Any]],
    as_printed: Callable[..., None],
    study: str,
    estimator: str,
) -> None:
    check = published(study)
    printed = check["expected"][estimator]
    pooled = pool(
        *effects(check), estimator=estimator, hartung_knapp=False, prediction_kind="normal"
    )
    names = ("tau2", "mu", "se", "z", "I2_percent", "H2")
    figures = [printed[name] for name in names]
    actual = [
        pooled.tau2,
        pooled.mean,
        pooled.standard_error,
        pooled.statistic,
        pooled.i2_pct,
        pooled.h2,
    ]
    as_printed(figures, actual, relative=DIGITS[estimator])
    ends = [*printed["ci95"], *printed["prediction95_normal"]]
    actual_ends = [pooled.lower, pooled.upper, *pooled.prediction]
    as_printed(ends, actual_ends, relative=DIGITS[estimator])
    as_printed(printed["p"], pooled.p, relative=1e-6)


@pytest.mark.parametrize("study", STUDIES)
@pytest.mark.parametrize("estimator", ["DL", "PM", "REML"])
def test_hartung_knapp_gives_the_printed_figures(
    published: Callable[[str], dict[str, Any]],
    as_printed: Callable[..., None],
    study: str,
    estimator: str,
) -> None:
    check = published(study)
    printed = check["expected"][f"{estimator}_hartung_knapp"]
    pooled = pool(*effects(check), estimator=estimator)
    ends = printed["ci95"] + printed["prediction95_t_k_minus_1"]
    as_printed(
        [printed["se"], printed["t"], *ends],
        [pooled.standard_error, pooled.statistic, pooled.lower, pooled.upper, *pooled.prediction],
        relative=5e-8,
    )
    as_printed(printed["p"], pooled.p, relative=1e-6)


@pytest.mark.parametrize("study", STUDIES[:3])
def test_the_q_profile_interval_is_as_printed(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], study: str
) -> None:
    check = published(study)
    as_printed(check["expected"]["q_profile"]["tau2_ci95"], tau2_interval(*effects(check)))


@pytest.mark.parametrize("study", STUDIES[:3])
def test_tau2_is_as_printed_in_the_papers(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], study: str
) -> None:
    check = published(study)
    printed = check["expected"]["published"]
    for name in (name for name in ESTIMATORS if f"{name}_tau2" in printed):
        as_printed(printed[f"{name}_tau2"], tau2(*effects(check), name))


def test_van_houwelingen_ml_intervals_are_as_printed(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("meta-bcg-log-odds-ratio")
    printed = check["expected"]["published"]
    plain = pool(*effects(check), estimator="ML", hartung_knapp=False)
    knapp = pool(*effects(check), estimator="ML")
    as_printed(printed["ML_exp_mu"], np.exp(plain.mean))
    as_printed(printed["ML_exp_ci"], np.exp([plain.lower, plain.upper]))
    as_printed(printed["ML_hk_exp_ci"], np.exp([knapp.lower, knapp.upper]))
