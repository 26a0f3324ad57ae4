"""Benjamini Y, Hochberg Y (1995), J R Stat Soc B 57(1):289-300: their fifteen p values.

Numbers: values/bh-1995-fifteen.toml (printed by scipy's documentation and by R's p.adjust).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from rigledger.statistics.multiplicity import benjamini_hochberg, holm

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.parametrize(
    ("adjust", "name"), [(benjamini_hochberg, "BH"), (holm, "holm")], ids=["BH", "Holm"]
)
def test_the_fifteen_p_values_are_adjusted_as_printed(
    published: Callable[[str], dict[str, Any]],
    as_printed: Callable[..., None],
    adjust: Callable[..., Any],
    name: str,
) -> None:
    check = published("bh-1995-fifteen")
    as_printed(check["expected"][name], adjust(check["inputs"]["p"]), relative=1e-12)


@pytest.mark.parametrize(
    ("adjust", "name"), [(benjamini_hochberg, "rejected_BH"), (holm, "rejected_holm")]
)
def test_as_many_are_rejected_as_the_paper_says(
    published: Callable[[str], dict[str, Any]], adjust: Callable[..., Any], name: str
) -> None:
    check = published("bh-1995-fifteen")
    adjusted = adjust(check["inputs"]["p"])
    rejected = int((adjusted <= check["inputs"]["alpha"]).sum())
    assert int(check["expected"][name]) == rejected
