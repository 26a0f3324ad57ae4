"""Fleming PJ, Wallace JJ (1986), How not to lie with statistics, Commun ACM 29(3):218-221.

Numbers: values/fleming-wallace-geometric-mean.toml (times and means from memory of the paper).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from rigledger.statistics.geometric_mean import geometric_mean

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.parametrize(("over", "under"), ["MR", "RM", "ZM"])
def test_geometric_means_of_normalised_times_are_as_printed(
    published: Callable[[str], dict[str, Any]],
    as_printed: Callable[..., None],
    over: str,
    under: str,
) -> None:
    check = published("fleming-wallace-geometric-mean")
    times = dict(zip("RMZ", np.array(check["inputs"]["times_R_M_Z"]).T, strict=True))
    printed = check["expected"][f"geometric_mean_of_{over}_over_{under}"]
    as_printed(printed, geometric_mean(times[over] / times[under]))


def test_the_geometric_mean_does_not_depend_on_the_reference(
    published: Callable[[str], dict[str, Any]],
) -> None:
    r, m, z = np.array(published("fleming-wallace-geometric-mean")["inputs"]["times_R_M_Z"]).T
    direct = geometric_mean(z / m)
    by_way_of_r = geometric_mean(z / r) / geometric_mean(m / r)
    assert direct == pytest.approx(by_way_of_r, rel=1e-14)


def test_the_arithmetic_mean_does_depend_on_it_as_the_paper_warns(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("fleming-wallace-geometric-mean")
    r, m, z = np.array(check["inputs"]["times_R_M_Z"]).T
    printed = [
        check["expected"][f"arithmetic_mean_of_{name}"]
        for name in ("M_over_R", "Z_over_R", "R_over_M", "Z_over_M")
    ]
    as_printed(printed, [np.mean(m / r), np.mean(z / r), np.mean(r / m), np.mean(z / m)])
