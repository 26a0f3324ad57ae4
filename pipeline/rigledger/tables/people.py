"""Which names of contributors count as one: what ties them, followed from name to name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.errors import StudyError, near_names

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from rigledger.study.model import Relation
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


def fill_declared_ties(shop: Workshop) -> None:
    """Fill ``work.declared_ties`` from the relations that the study declares.

    Raises:
        StudyError: One names a contributor of whom the study holds nothing.
    """
    import polars as pl

    names = {row[0] for row in _rows(shop, "select contributor from contributors")}
    for place, held in enumerate(shop.design.relations, start=1):
        for key in ("contributor", "counts_with"):
            if getattr(held, key) not in names:
                _refuse_stranger(place, key, getattr(held, key), names)
    rows = [(held.contributor, held.counts_with, _why(held)) for held in shop.design.relations]
    schema = dict.fromkeys(("one", "other", "because"), pl.String())
    shop.fill("declared_ties", pl.DataFrame(rows, schema=schema, orient="row"))


def _why(held: Relation) -> str:
    return (
        f"declared by {held.declared_by} on {held.declared_on}: "
        f"{held.contributor}, {held.counts_with} ({held.reason})"
    )


def _refuse_stranger(place: int, key: str, value: str, names: Iterable[str]) -> None:
    raise StudyError(
        f"the study holds no set of this contributor; {near_names(value, names)}",
        file="study.toml", column=f"relations[{place}].{key}", value=value,
        next_step="correct the name, or take the relation out until a set of theirs is admitted",
    )  # fmt: skip


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
