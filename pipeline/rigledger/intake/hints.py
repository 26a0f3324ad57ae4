"""Spares rules their query where a few aggregates show that they can find nothing."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from concurrent.futures import Future

    import duckdb

    from rigledger.contract.model import Rule
    from rigledger.side import Side


_FOUND = "handed.found"


class Hints:
    """Answers the aggregates that rules name in ``only_if``: each relation is read once, for all.

    A relation is read when the first rule asks for it, so that what earlier rules have found is
    in it. Later rules may take values out of some relations, never put any in. For a long set
    they are read beside too, the last of them first, until those are reached that were asked for.
    For a short one they are read with one statement but for what was found, which is there later.
    """

    def __init__(
        self, con: duckdb.DuckDBPyConnection, rules: Iterable[Rule], side: Side | None = None
    ) -> None:
        self._con = con
        self._asked: dict[str, dict[str, None]] = {}
        self._answers: dict[str, dict[str, bool]] = {}
        self._begun: dict[str, Future[dict[str, bool]]] = {}
        for rule in rules:
            for relation, aggregate in conditions(rule).items():
                self._asked.setdefault(relation, {})[aggregate] = None
        if side is not None and side.pool is not None:
            for relation in reversed(self._asked):
                self._begun[relation] = side.begin(partial(self._read, relation))

    def read_at_once(self, rules: Iterable[Rule]) -> None:
        """Read what some rules of a short set ask for, those that can run, with one statement."""
        asked = {relation for rule in rules for relation in conditions(rule)}
        relations = [one for one in self._asked if one in asked and _FOUND not in one]
        parts = [
            f"SELECT {place} AS place, [{', '.join(self._asked[relation])}] AS held FROM {relation}"
            for place, relation in enumerate(relations)
        ]
        rows = self._con.execute("\nUNION ALL ".join(parts)).fetchall() if parts else []
        for place, held in rows:
            self._answers[relations[place]] = self._told(relations[place], held)

    def may_find(self, rule: Rule) -> bool:
        """Whether a rule can find anything; True where nothing says that it can't."""
        asked = conditions(rule)
        return not asked or any(self._holds(*item) for item in asked.items())

    def _holds(self, relation: str, aggregate: str) -> bool:
        if relation not in self._answers:
            begun = self._begun.get(relation)
            if begun is None or begun.cancel():
                self._answers[relation] = self._read(relation, self._con)
            else:
                self._answers[relation] = begun.result()
        return self._answers[relation][aggregate]

    def _read(self, relation: str, con: duckdb.DuckDBPyConnection) -> dict[str, bool]:
        asked = ", ".join(self._asked[relation])
        return self._told(relation, con.execute(f"SELECT {asked} FROM {relation}").fetchone() or ())

    def _told(self, relation: str, row: Sequence[bool | None]) -> dict[str, bool]:
        return {
            aggregate: bool(found)
            for aggregate, found in zip(self._asked[relation], row, strict=True)
        }


def conditions(rule: Rule) -> Mapping[str, str]:
    """Give a rule's ``only_if``; for one that looks at single rows, what it looks for in them."""
    if rule.only_if or rule.check is None:
        return rule.only_if
    return {f"handed.{rule.table}": f"bool_or(NOT ({rule.check}))"}
