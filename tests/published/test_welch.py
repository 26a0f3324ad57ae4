"""Student (1908), Welch (1947): the sleep data as base R prints them.

Numbers: values/welch-student-sleep.toml.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest
from scipy import stats

from rigledger.statistics.student import Kind, difference

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.parametrize("kind", ["welch", "pooled", "paired"])
def test_t_p_and_interval_of_the_sleep_data_are_as_printed(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None], kind: str
) -> None:
    check = published("welch-student-sleep")
    one, two = (np.array(check["inputs"][name]) for name in ("group1", "group2"))
    result = difference(two, one, cast("Kind", kind))
    expected = check["expected"][kind]
    half = result.half_width(0.95)
    as_printed(expected["t"], result.t(), relative=1e-9)
    as_printed(expected["df"], result.df, relative=1e-9)
    as_printed(expected["p"], result.p(), relative=1e-9)
    ends = [result.estimate - half, result.estimate + half]
    as_printed(expected["ci95"], ends, relative=1e-9)


def test_rows_of_simulated_pairs_agree_with_scipy() -> None:
    rng = np.random.default_rng(1)
    off, on = rng.normal(0, 1, (20, 3)), rng.normal(0, 3, (20, 4))
    result = difference(off, on)
    other = stats.ttest_ind(on, off, axis=1, equal_var=False)
    np.testing.assert_allclose(result.p(), other.pvalue, rtol=1e-10)
    np.testing.assert_allclose(result.df, other.df, rtol=1e-10)
