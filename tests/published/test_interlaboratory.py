"""ASTM E691, ISO 5725-2 and ISO 13528 against the standards' examples; each file names its source.

values/e691-glucose.toml, mandel-hk-critical-0-5-percent.toml, algorithm-a-*.toml,
variance-components-*.toml.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from rigledger.statistics.interlaboratory import algorithm_a, h_critical, k_critical, precision
from rigledger.statistics.summary import analysis_of_variance

MATERIALS = ("A", "B", "C", "D", "E")

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.parametrize("material", MATERIALS)
def test_the_glucose_study_of_e691_gives_its_precision(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], material: str
) -> None:
    check = published("e691-glucose")
    printed = check["expected"][f"material_{material}"]
    result = precision(check["inputs"][f"material_{material}"]["laboratory_rows"])
    as_printed(printed["cell_means"], result.cell_means)
    as_printed(printed["cell_sds"], result.cell_sds)
    as_printed(
        [printed[name] for name in ("mean_of_means", "s_xbar", "s_r", "s_R")],
        [result.mean, result.sd_of_means, result.repeatability_sd, result.reproducibility_sd],
    )
    as_printed(
        [printed["r_2_8"], printed["R_2_8"]],
        [result.repeatability_limit, result.reproducibility_limit],
    )
    as_printed(printed["h"], result.h)
    as_printed(printed["k"], result.k)


def test_the_glucose_study_agrees_with_the_standards_own_table(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    # From memory of the standard's table; materials B and C differ in the public copy.
    check = published("e691-glucose")
    printed = check["expected"]["printed_in_the_standard_from_memory"]
    fields = {
        "s_r": "repeatability_sd",
        "s_R": "reproducibility_sd",
        "r": "repeatability_limit",
        "R": "reproducibility_limit",
    }
    for name, text in printed.items():
        material, field = name.split("_", 1)
        result = precision(check["inputs"][f"material_{material}"]["laboratory_rows"])
        as_printed(text, getattr(result, fields[field]))


def test_critical_values_of_h_are_as_tabled(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("mandel-hk-critical-0-5-percent")
    as_printed(check["expected"]["h"], [h_critical(p) for p in check["inputs"]["p"]])


@pytest.mark.parametrize("replicates", [2, 3, 4, 5, 6])
def test_critical_values_of_k_are_as_tabled(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], replicates: int
) -> None:
    check = published("mandel-hk-critical-0-5-percent")
    actual = [k_critical(p, replicates) for p in check["inputs"]["p"]]
    as_printed(check["expected"][f"k_n{replicates}"], actual)


def test_critical_values_round_to_the_two_decimals_of_the_standard(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    printed = published("e691-glucose")["expected"]["critical"]
    as_printed(
        [printed["h_0_5_percent_p8"], printed["k_0_5_percent_p8_n3"]],
        [h_critical(8), k_critical(8, 3)],
    )


def test_algorithm_a_follows_the_creosote_iterates(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("algorithm-a-creosote")
    values, printed = check["inputs"]["cell_means"], check["expected"]
    for step in range(5):
        location = algorithm_a(values, max_steps=step)
        # The source starts from a MAD with the constant 1.4826; ours is exact.
        as_printed(printed[f"iterate_{step}"], [location.mean, location.sd], relative=2e-6)
    converged = algorithm_a(values)
    as_printed(printed["converged"], [converged.mean, converged.sd])


def test_algorithm_a_shrugs_off_the_gross_copper_value(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("algorithm-a-copper-in-flour")
    location = algorithm_a(check["inputs"]["cell_means"])
    as_printed(check["expected"]["converged"], [location.mean, location.sd])
    as_printed(check["expected"]["printed"], [location.mean, location.sd])


@pytest.mark.parametrize("name", ["dyestuff", "looms"])
def test_variance_components_of_a_balanced_study_are_as_printed(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], name: str
) -> None:
    check = published(f"variance-components-{name}")
    groups, printed = check["inputs"]["groups"], check["expected"]
    table = analysis_of_variance(groups)
    as_printed(
        [printed[field] for field in ("ms_between", "ms_within", "f", "p", "between_reml")],
        [
            table.ms_between,
            table.ms_within,
            table.f,
            table.p,
            table.between_variance(len(groups[0])),
        ],
    )
    # ISO 5725-2's s_L and s_r are the square roots of the same two components.
    result = precision(groups)
    as_printed(
        [printed["between_reml"], printed["within_reml"]],
        np.square([result.between_sd, result.repeatability_sd]),
    )
