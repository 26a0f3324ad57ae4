"""Lets the rules look at values that only the captures give, as they look at reported ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier, text
from rigledger.intake.cells import present_metrics
from rigledger.intake.typed import make_measurements

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract.model import Contract
    from rigledger.intake.readset import TextSet

# Finer than any step in which frame rates are reported, coarse enough to be read in a finding.
_DECIMALS = 3
_ASKED = """
SELECT DISTINCT f.metric
FROM handed.run_frames AS f
JOIN handed.runs AS r ON r._row = f._row
JOIN study.required_metrics AS q ON q.workload = r.workload AND q.metric = f.metric
"""
# A cell at which an error stands is mended by the tester, not by us.
_FILL = """
UPDATE handed.runs SET {column} = round(f.value, {decimals})
FROM handed.run_frames AS f
WHERE f._row = runs._row AND f.metric = {metric} AND isfinite(f.value) AND runs.{column} IS NULL
  AND NOT EXISTS (
    FROM handed.found AS x WHERE x._table = 'runs' AND x._row = f._row AND x.column_name = {metric}
  )
"""


def fill_from_captures(
    con: duckdb.DuckDBPyConnection, held: TextSet, contract: Contract
) -> tuple[str, ...]:
    """Fill in the metrics of ``handed.runs`` that the study asks for and only captures give.

    Whether a value is plausible, and whether it stands in the set twice, does not depend on who
    computed it; a set of captures alone has no other values.

    Args:
        con: The database, with ``handed.run_frames`` filled and ``study.*``.
        held: The set.
        contract: The contract.

    Returns:
        The metrics that the set has now, reported or recomputed, in the contract's order.
    """
    asked = {metric for (metric,) in con.execute(_ASKED).fetchall()}
    for metric in sorted(asked):
        column = identifier(metric)
        con.execute(_FILL.format(column=column, metric=text(metric), decimals=_DECIMALS))
    there = asked | set(present_metrics(held, contract))
    names = tuple(name for name in contract.metrics if name in there)
    make_measurements(con, names)
    return names
