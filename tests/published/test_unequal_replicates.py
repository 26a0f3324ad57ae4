"""ISO 5725-2 with unequal numbers of runs against the standard's example; the file names it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.statistics.interlaboratory import k_critical
from rigledger.statistics.unequal_replicates import unequal_precision, within_consistency

if TYPE_CHECKING:
    from collections.abc import Callable


def test_the_coal_example_gives_its_precision(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("iso-5725-2-coal")
    printed = check["expected"]
    found = unequal_precision(check["inputs"]["laboratories"])
    as_printed(
        [printed["mean"], printed["s_r"], printed["s_R"]],
        [found.mean, found.repeatability_sd, found.reproducibility_sd],
    )


def test_the_glucose_study_of_e691_gives_its_k(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("e691-glucose")
    for material in ("A", "B", "C", "D", "E"):
        printed = check["expected"][f"material_{material}"]
        sds = [float(text) for text in printed["cell_sds"]]
        k, _ = within_consistency(sds, [2.0] * len(sds))
        as_printed(printed["k"], k, relative=2e-3)


def test_the_chance_of_a_critical_k_is_the_level_of_the_table() -> None:
    # k of one laboratory at the tabled value of ASTM E691 for 8 laboratories with 3 runs.
    critical = k_critical(8, 3)
    others = ((8 - critical**2) / 7) ** 0.5
    k, tail = within_consistency([critical] + [others] * 7, [2.0] * 8)
    assert abs(k[0] - critical) < 1e-12
    assert abs(tail[0] - 0.005) < 1e-12
