"""Two one-sided tests (Schuirmann 1987): worked examples of three R packages.

Numbers: values/tost-clinic (equivalence, by way of statsmodels' tests), tost-summary-statistics
(TOSTER), tost-log-ratio-crossover (PowerTOST).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest

from rigledger.statistics.student import Difference, Kind, difference, two_one_sided

if TYPE_CHECKING:
    from collections.abc import Callable

    Load = Callable[[str], dict[str, Any]]
    Compare = Callable[..., None]


@pytest.mark.parametrize("kind", ["welch", "pooled", "paired"])
@pytest.mark.parametrize("variable", ["var1", "var2"])
def test_clinic_data_give_the_printed_interval_and_p(
    published: Load, as_printed: Compare, kind: str, variable: str
) -> None:
    check = published("tost-clinic")
    inputs, expected = check["inputs"], check["expected"][f"{kind}_{variable}"]
    one, two = (np.array(inputs[f"{variable}_group{k}"]) for k in (1, 2))
    result = difference(two, one, cast("Kind", kind))
    margin = inputs["margin"]
    test = two_one_sided(result.estimate, result.se, result.df, (-margin, margin))
    half = result.half_width(0.90)
    as_printed(expected["difference"], result.estimate, relative=1e-11)
    as_printed(expected["se"], result.se, relative=1e-11)
    as_printed(expected["ci90"], [result.estimate - half, result.estimate + half], relative=1e-11)
    as_printed(expected["p"], test.p, relative=1e-11)


def summary(name: str, inputs: dict[str, float]) -> Difference:
    """The difference that the summary numbers of one case describe."""
    i = inputs
    if name == "one_sample":
        estimate, squared, df = i["m"] - i["mu"], i["sd"] ** 2 / i["n"], i["n"] - 1
    elif name == "paired":
        both = 2 * i["r12"] * i["sd1"] * i["sd2"]
        squared = (i["sd1"] ** 2 + i["sd2"] ** 2 - both) / i["n"]
        estimate, df = i["m1"] - i["m2"], i["n"] - 1
    else:
        a, b = i["sd1"] ** 2 / i["n1"], i["sd2"] ** 2 / i["n2"]
        estimate, squared = i["m1"] - i["m2"], a + b
        df = squared**2 / (a**2 / (i["n1"] - 1) + b**2 / (i["n2"] - 1))
    return Difference(np.array(estimate), np.sqrt(np.array(squared)), np.array(float(df)))


@pytest.mark.parametrize("name", ["one_sample", "welch", "paired"])
def test_summary_numbers_give_the_printed_t_and_p(
    published: Load, as_printed: Compare, name: str
) -> None:
    check = published("tost-summary-statistics")
    inputs, expected = check["inputs"][name], check["expected"][name]
    result = summary(name, inputs)
    low, high = inputs["low"], inputs["high"]
    test = two_one_sided(result.estimate, result.se, result.df, (low, high))
    as_printed(expected["t_low"], (result.estimate - low) / result.se)
    as_printed(expected["t_high"], (result.estimate - high) / result.se)
    as_printed(expected["p_low"], test.p_above_low)
    as_printed(expected["p_high"], test.p_below_high)
    for level, ends in ((0.90, "ci90"), (0.95, "ci95")):
        half = result.half_width(level)
        as_printed(expected[ends], [result.estimate - half, result.estimate + half])


@pytest.mark.parametrize("case", ["a", "b", "c", "d"])
def test_ratios_on_the_log_scale_give_the_printed_interval_and_p(
    published: Load, as_printed: Compare, case: str
) -> None:
    check = published("tost-log-ratio-crossover")
    i, expected = check["inputs"][case], check["expected"][case]
    variance = np.log1p(i["cv"] ** 2) / 2 * (1 / i["n1"] + 1 / i["n2"])
    df = np.array(i["n1"] + i["n2"] - 2.0)
    result = Difference(np.log(np.array(i["pe"])), np.sqrt(variance), df)
    test = two_one_sided(result.estimate, result.se, result.df, (np.log(0.8), np.log(1.25)))
    half = result.half_width(0.90)
    ends = np.exp([result.estimate - half, result.estimate + half])
    found = {
        "ci90": ends,
        "ci90_low": ends[0],
        "p": test.p,
        "p_low": test.p_above_low,
        "p_high": test.p_below_high,
    }
    for name, printed in expected.items():
        as_printed(printed, found[name])
