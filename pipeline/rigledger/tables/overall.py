"""Geometric-mean changes over named sets of titles, with both intervals."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl

    from rigledger.statistics.inputs import FloatArray
    from rigledger.tables.workshop import Workshop

KEY = ("rig", "resolution", "contrast", "metric", "title_set")
_NUMBERS = (
    "change_pct", "these_low_95_pct", "these_high_95_pct", "like_these_low_95_pct",
    "like_these_high_95_pct",
)  # fmt: skip
_PAIR = ("contributor", "metric", "pair")


def fill_overall_statistics(shop: Workshop) -> None:
    """Fill ``work.overall_statistics``: one row per title set with at least one title."""
    import polars as pl

    rows = [
        (*key, *_means(held))
        for key, held in _titles(shop).partition_by(*KEY, as_dict=True, maintain_order=True).items()
    ]
    schema = dict.fromkeys(KEY, pl.String()) | dict.fromkeys(_NUMBERS, pl.Float64())
    shop.fill("overall_statistics", pl.DataFrame(rows, schema=schema, orient="row"))


def _titles(shop: Workshop) -> pl.DataFrame:
    """Give the titles' changes with their variances, and the sessions behind each."""
    import polars as pl

    from rigledger.statistics.small_sample import matched_student

    titles = shop.frame(
        "select * from work.title_set_rows where ln_change is not null "
        f"order by {', '.join(KEY)}, workload"
    )
    sessions = shop.frame(
        f"select {', '.join(_PAIR)}, list(session order by session) as sessions, "
        "list(weight order by session) as weights "
        f"from work.title_sessions group by {', '.join(_PAIR)}"
    )
    variance, df = matched_student(titles["ln_half_90"], titles["ln_half_95"])
    numbers = (pl.Series("variance", variance), pl.Series("df", df))
    return titles.with_columns(*numbers).join(sessions, on=_PAIR, how="left", maintain_order="left")


def _means(titles: pl.DataFrame) -> tuple[float | None, ...]:
    from rigledger.statistics.geometric_mean import overall_change
    from rigledger.statistics.title_sessions import session_covariance

    common = session_covariance(
        titles["variance"], titles["session_share"], titles["session_common"], _weights(titles)
    )
    found = overall_change(
        titles["ln_change"], titles["variance"].sqrt(), titles["df"], session_covariance=common
    )
    like = found.titles_like_these
    return (
        found.change_pct,
        found.these_titles.lower,
        found.these_titles.upper,
        None if like is None else like.lower,
        None if like is None else like.upper,
    )


def _weights(titles: pl.DataFrame) -> FloatArray:
    """Lay the weights of the sessions out as titles × sessions."""
    import numpy as np

    rows = list(zip(titles["sessions"].to_list(), titles["weights"].to_list(), strict=True))
    names = sorted({name for sessions, _ in rows for name in sessions or ()})
    laid = np.zeros((len(rows), len(names)))
    for title, (sessions, weights) in zip(laid, rows, strict=True):
        if sessions:
            title[[names.index(name) for name in sessions]] = weights
    return laid
