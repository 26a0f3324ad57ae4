"""The rows of the derived tables that claims are held against, typed and in memory."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.errors import near_names

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import duckdb

    from rigledger.claims.model import Dimension, Scope
    from rigledger.contract import Contract
    from rigledger.study.model import Design

Row = Mapping[str, Any]
_SQL = Path(__file__).parent / "sql"
_QUERIES = ("changes", "unmeasured", "overall", "factors", "rigs", "values")
JUDGED_WITHOUT_VERDICT = "direction_neither"
"""A metric without a better side has changes and intervals, though neither gain nor loss."""


@dataclass(frozen=True)
class Evidence:
    """The rows that claims are judged by, and what their names may be.

    Attributes:
        changes: Latest comparisons, those without a verdict too; keys as in ``sql/changes.sql``.
        unmeasured: Planned cells with no comparison.
        overall: Rows of ``overall``.
        factors: Rows of ``factor_effects``.
        rigs: Rows of ``rig_comparisons``.
        values: Rows of ``cells``, one for each rig, workload, resolution, level and metric.
        material_change_pct: The study's material change.
        better: Metric to higher, lower or neither.
        title_sets: Name to workloads.
        can_act: Workloads on which the setting can act; others count where a scope names them.
        levels: Contrast to its two levels.
        baseline: The level at which values and rigs are compared where a scope names none.
        legal: Names by dimension.
    """

    changes: Sequence[Row]
    unmeasured: Sequence[Row]
    overall: Sequence[Row]
    factors: Sequence[Row]
    rigs: Sequence[Row]
    values: Sequence[Row]
    material_change_pct: float
    better: Mapping[str, str]
    title_sets: Mapping[str, tuple[str, ...]]
    can_act: frozenset[str]
    levels: Mapping[str, tuple[str, str]]
    baseline: str
    legal: Mapping[str, frozenset[str]] = field(default_factory=dict)

    @cached_property
    def judged(self) -> tuple[Row, ...]:
        """Changes that may be judged."""
        return tuple(row for row in self.changes if is_judged(row))

    @cached_property
    def missing(self) -> tuple[Row, ...]:
        """Cells of the plan or of the data without a change that may be judged."""
        without = ({**row, "why": row["no_verdict"]} for row in self.changes if not is_judged(row))
        return (*without, *self.unmeasured)

    def within(self, rows: Iterable[Row], scope: Scope) -> list[Row]:
        """Give the rows that a scope covers; a dimension that a row lacks doesn't narrow it."""
        held = {key: frozenset(names) for key, names in scope.named}
        titles = held.pop("title_set", None)
        sets = None if titles is None else self._workloads_of(titles)
        acts = self.can_act if "workload" not in held and sets is None else None
        return [
            row
            for row in rows
            if all(key not in row or row[key] in names for key, names in held.items())
            and _in_titles(row, titles, sets)
            and (acts is None or row.get("workload", "all-shared") in acts | {"all-shared"})
        ]

    def _workloads_of(self, title_sets: Iterable[str]) -> frozenset[str]:
        return frozenset(name for held in title_sets for name in self.title_sets.get(held, ()))

    def unknown(self, scope: Scope, further: Iterable[tuple[Dimension, str]] = ()) -> str | None:
        """Say which name of a scope (or further one) the study doesn't hold, with near ones."""
        named = ((key, name) for key, names in scope.named for name in names)
        for key, name in (*named, *further):
            legal = self.legal.get(key)
            if legal is not None and name not in legal:
                near = near_names(name, legal)
                return f"the study holds no {key} {name!r}; {near}".rstrip("; ")
        return None


def _in_titles(row: Row, titles: frozenset[str] | None, sets: frozenset[str] | None) -> bool:
    if titles is None or sets is None:
        return True
    return row["title_set"] in titles if "title_set" in row else row.get("workload") in sets


def is_judged(row: Row) -> bool:
    """Whether a comparison has a change that may be judged."""
    known = row["change_pct"] is not None and row["high_90_pct"] is not None
    return known and row["no_verdict"] in {None, JUDGED_WITHOUT_VERDICT}


def read_evidence(con: duckdb.DuckDBPyConnection, design: Design, contract: Contract) -> Evidence:
    """Read what claims are judged by from derived tables.

    Args:
        con: Connection that holds ``cells``, ``comparisons``, ``overall``, ``factor_effects``,
            ``rig_comparisons`` and the source tables ``contrasts`` and ``rigs``.
        design: The study's design.
        contract: The contract.
    """
    held = {name: _rows(con, name) for name in _QUERIES}
    acting = (one.workload for one in design.workloads if one.setting_can_act)
    return Evidence(
        **held,
        material_change_pct=design.material_change_pct,
        better={name: metric.direction for name, metric in contract.metrics.items()},
        title_sets={one.title_set: one.workloads for one in design.title_sets},
        can_act=frozenset(acting),
        levels={one.contrast: (one.from_level, one.to_level) for one in design.contrasts},
        baseline=design.baseline.level,
        legal=_legal(con, design, held),
    )


def _rows(con: duckdb.DuckDBPyConnection, name: str) -> list[Row]:
    cursor = con.execute((_SQL / f"{name}.sql").read_text(encoding="utf-8"))
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _legal(
    con: duckdb.DuckDBPyConnection, design: Design, held: Mapping[str, Sequence[Row]]
) -> dict[str, frozenset[str]]:
    rigs = con.execute("select rig, contributor, platform, card from rigs order by rig").fetchall()
    columns = [frozenset(str(row[place]) for row in rigs) for place in range(4)]
    known = (*held["changes"], *held["unmeasured"], *held["values"])
    return {
        "rig": columns[0],
        "contributor": columns[1],
        "platform": columns[2] | {one.platform for one in design.platforms},
        "card": columns[3] | {one.card for one in design.cards},
        "resolution": frozenset(str(row["resolution"]) for row in known),
    }
