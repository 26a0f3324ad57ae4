"""Outlier tests against NIST's handbook and the published tables; each file names its source.

values/grubbs-*.toml, esd-rosner-54.toml, dixon-r10.toml, cochran-critical-5-percent.toml.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from rigledger.statistics.outliers import (
    cochran_critical,
    dixon_r10,
    dixon_r10_critical,
    generalised_esd,
    grubbs,
    grubbs_critical,
)

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.parametrize(
    ("column", "alpha"),
    [
        ("one_sided_5_percent", 0.05),
        ("one_sided_2_5_percent", 0.025),
        ("one_sided_1_percent", 0.01),
    ],
)
def test_grubbs_critical_values_are_as_tabled(
    published: Callable[[str], dict[str, Any]],
    as_printed: Callable[..., None],
    column: str,
    alpha: float,
) -> None:
    check = published("grubbs-critical-values")
    actual = [grubbs_critical(n, alpha, 1) for n in check["inputs"]["n"]]
    as_printed(check["expected"][column], actual)


def test_grubbs_test_of_the_uranium_readings_is_as_in_the_nist_handbook(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("grubbs-nist-uranium")
    data, printed = check["inputs"]["data"], check["expected"]
    one, two = grubbs(data, 1), grubbs(data, 2)
    assert float(printed["outlier"]) == data[one.position]
    as_printed([printed["G"], printed["p_one_sided"]], [one.statistic, one.p])
    as_printed(printed["p_two_sided"], two.p)
    as_printed(
        [printed["critical_one_sided_5_percent"], printed["critical_two_sided_5_percent"]],
        [grubbs_critical(8, 0.05, 1), grubbs_critical(8, 0.05, 2)],
    )


def test_generalised_esd_of_rosners_values_is_as_in_the_nist_handbook(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("esd-rosner-54")
    inputs, printed = check["inputs"], check["expected"]
    result = generalised_esd(inputs["data"], inputs["max_outliers"], alpha=inputs["alpha"])
    as_printed(printed["R"], result.statistics)
    as_printed(printed["lambda"], result.critical)
    assert int(printed["outliers"]) == result.outliers
    assert [inputs["data"][i] for i in result.positions[:3]] == [6.01, 5.42, 5.34]


@pytest.mark.parametrize("percent", [90, 95, 99])
def test_dixon_critical_values_are_the_exact_ones(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], percent: int
) -> None:
    check = published("dixon-r10")
    actual = [dixon_r10_critical(n, 1 - percent / 100) for n in check["inputs"]["n"]]
    as_printed(check["expected"]["exact"][f"two_sided_{percent}_percent"], actual)


@pytest.mark.parametrize("percent", [90, 95, 99])
def test_dixons_printed_table_is_within_its_known_error(
    published: Callable[[str], dict[str, Any]], percent: int
) -> None:
    check = published("dixon-r10")
    printed = [float(q) for q in check["expected"]["printed_table"][f"two_sided_{percent}_percent"]]
    actual = [dixon_r10_critical(n, 1 - percent / 100) for n in check["inputs"]["n"]]
    assert printed == pytest.approx(actual, abs=check["allowed_difference"]["printed_table"])


def test_dixons_worked_example_is_rejected_at_90_but_not_at_95_percent(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("dixon-r10")
    result = dixon_r10(check["inputs"]["example"])
    as_printed(check["expected"]["example_Q"], result.statistic)
    assert (
        float(check["expected"]["example_suspect"]) == check["inputs"]["example"][result.position]
    )
    assert 0.05 < result.p < 0.10


@pytest.mark.parametrize("replicates", [2, 3, 4, 5, 6])
def test_cochran_critical_values_are_as_tabled(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], replicates: int
) -> None:
    check = published("cochran-critical-5-percent")
    actual = [cochran_critical(p, replicates, 0.05) for p in check["inputs"]["p"]]
    as_printed(check["expected"][f"C_n{replicates}"], actual)
