"""NIST Statistical Reference Datasets: certified values, univariate and one-way ANOVA.

values/nist-univariate-*.toml and nist-anova-*.toml (verbatim copies of the NIST files);
values/quantile-types-22.toml: Hyndman and Fan (1996), Am Stat 50(4):361-365.
"""

from __future__ import annotations

import hashlib
from decimal import Decimal, getcontext
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from rigledger.statistics.summary import (
    analysis_of_variance,
    autocorrelation,
    mean,
    standard_deviation,
)

# Relative error that double precision allows; the data of the last ones lose digits in binary.
ANOVA_DIGITS = {"sirstv": 1e-12, "smls01": 1e-13, "smls02": 1e-13, "smls04": 1e-8, "smls05": 1e-8}

if TYPE_CHECKING:
    from collections.abc import Callable


def digits_of_pi(generator: dict[str, Any]) -> list[int]:
    """The first digits of pi by Machin's formula, with the one digit that NIST's file has."""
    getcontext().prec = generator["count"] + 20
    unit = 10 ** (generator["count"] + 10)

    def arctan_of_inverse(x: int) -> int:
        term = total = unit // x
        for step in range(3, 3 * generator["count"], 2):
            term //= -(x * x)
            if term in (0, -1):
                return total
            total += term // step
        raise AssertionError

    pi = 4 * (4 * arctan_of_inverse(5) - arctan_of_inverse(239))
    digits = str(Decimal(pi).to_integral_value())[: generator["count"]]
    position = generator["changed_position_1_based"]
    digits = f"{digits[: position - 1]}{generator['changed_to']}{digits[position:]}"
    found = hashlib.sha256(digits.encode("ascii")).hexdigest()
    assert generator["sha256_of_the_digit_string"] == found
    return [int(digit) for digit in digits]


def values_of(inputs: dict[str, Any]) -> list[float]:
    generator = inputs.get("generator")
    if generator is None:
        return inputs["data"]
    if "rule" in generator:
        return digits_of_pi(generator)
    return [generator["first"], *generator["then_repeat"] * generator["repeats"]]


def groups_of(inputs: dict[str, Any]) -> list[list[float]]:
    generator = inputs.get("generator")
    if generator is None:
        return inputs["groups"]
    # The data as NIST prints them: one decimal, not a sum that rounds in binary.
    return [
        [centre, *[round(centre - 0.1, 1), round(centre + 0.1, 1)] * generator["repeats"]]
        for centre in generator["centres"]
    ]


@pytest.mark.parametrize("name", ["lew", "lottery", "numacc1", "numacc2", "pidigits"])
def test_mean_sd_and_autocorrelation_are_the_certified_ones(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], name: str
) -> None:
    check = published(f"nist-univariate-{name}")
    data, printed = values_of(check["inputs"]), check["expected"]
    assert int(printed["n"]) == len(data)
    as_printed(printed["mean"], mean(data), relative=1e-14)
    as_printed(printed["sd"], standard_deviation(data), relative=1e-13)
    as_printed(printed["autocorrelation_lag1"], autocorrelation(data), relative=1e-13)


@pytest.mark.parametrize("name", sorted(ANOVA_DIGITS))
def test_the_analysis_of_variance_is_the_certified_one(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], name: str
) -> None:
    check = published(f"nist-anova-{name}")
    printed = check["expected"]
    table = analysis_of_variance(groups_of(check["inputs"]))
    assert [int(printed["df_between"]), int(printed["df_within"])] == [
        table.df_between,
        table.df_within,
    ]
    fields = (
        "ss_between",
        "ms_between",
        "f",
        "ss_within",
        "ms_within",
        "r_squared",
        "residual_sd",
    )
    actual = [getattr(table, field) for field in fields]
    as_printed([printed[field] for field in fields], actual, relative=ANOVA_DIGITS[name])


def test_type_7_is_the_quantile_that_numpy_gives_by_default(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    # The lows rest on this: the other types differ at the tails.
    check = published("quantile-types-22")
    data, probabilities = check["inputs"]["data"], check["inputs"]["probabilities"]
    as_printed(check["expected"]["type_7"], np.quantile(data, probabilities), relative=1e-12)
    for kind, method in (
        ("type_4", "interpolated_inverted_cdf"),
        ("type_5", "hazen"),
        ("type_6", "weibull"),
        ("type_8", "median_unbiased"),
        ("type_9", "normal_unbiased"),
    ):
        actual = np.quantile(data, probabilities, method=method)
        as_printed(check["expected"][kind], actual, relative=1e-9)
