"""Which names of contributors count as one: what ties them, followed from name to name."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from rigledger.tables.workshop import Workshop

COLUMNS = ("contributor", "counted_as", "names", "together_with", "because")


def fill_one_person(shop: Workshop) -> None:
    """Fill ``work.one_person``: a row a contributor, with the first of the names it counts with."""
    import polars as pl

    names = [row[0] for row in _rows(shop, "select contributor from contributors order by all")]
    ties = _rows(shop, "select one, other, because from work.ties order by all")
    first = first_names(names, [(one, other) for one, other, _ in ties])
    rows = [_row(name, first, ties) for name in names]
    schema = {name: pl.Int64() if name == "names" else pl.String() for name in COLUMNS}
    shop.fill("one_person", pl.DataFrame(rows, schema=schema, orient="row"))


def first_names(names: Iterable[str], ties: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Give each name the first, in the order of the alphabet, of all that are tied to it.

    Args:
        names: The contributors.
        ties: Pairs of them that count as one; ties carry on, so that friends of friends are one.
    """
    first = {name: name for name in names}
    for one, other in ties:
        kept, gone = sorted((first[one], first[other]))
        first = {name: kept if held == gone else held for name, held in first.items()}
    return first


def _rows(shop: Workshop, query: str) -> list[tuple[str, ...]]:
    return shop.frame(query).rows()


def _row(
    name: str, first: Mapping[str, str], ties: Iterable[tuple[str, ...]]
) -> tuple[str, str, int, str | None, str | None]:
    others = [other for other, held in first.items() if held == first[name] and other != name]
    because = dict.fromkeys(tie[2] for tie in ties if first[tie[0]] == first[name])
    return (
        name,
        first[name],
        1 + len(others),
        ", ".join(others) or None,
        "; ".join(because) or None,
    )
