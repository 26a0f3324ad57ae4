"""Geometric-mean changes over named sets of titles, with both intervals."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl

    from rigledger.tables.workshop import Workshop

KEY = ("rig", "resolution", "contrast", "metric", "title_set")
_NUMBERS = (
    "change_pct", "these_low_95_pct", "these_high_95_pct", "like_these_low_95_pct",
    "like_these_high_95_pct",
)  # fmt: skip


def fill_overall_statistics(shop: Workshop) -> None:
    """Fill ``work.overall_statistics``: one row per title set with at least one title."""
    import polars as pl

    titles = shop.frame(
        "select * from work.title_set_rows where ln_change is not null "
        f"order by {', '.join(KEY)}, workload"
    )
    rows = [
        (*key, *_means(held))
        for key, held in titles.partition_by(*KEY, as_dict=True, maintain_order=True).items()
    ]
    schema = dict.fromkeys(KEY, pl.String()) | dict.fromkeys(_NUMBERS, pl.Float64())
    shop.fill("overall_statistics", pl.DataFrame(rows, schema=schema, orient="row"))


def _means(titles: pl.DataFrame) -> tuple[float | None, ...]:
    from rigledger.statistics.geometric_mean import overall_change
    from rigledger.statistics.small_sample import matched_student

    variance, df = matched_student(titles["ln_half_90"], titles["ln_half_95"])
    found = overall_change(titles["ln_change"], variance**0.5, df)
    like = found.titles_like_these
    return (
        found.change_pct,
        found.these_titles.lower,
        found.these_titles.upper,
        None if like is None else like.lower,
        None if like is None else like.upper,
    )
