"""How much runs and sessions of each rig differ, as measured: for planning what comes next."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.study.sheet_power import Spread, declared_spread

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    import duckdb

    from rigledger.study.model import Design, PlannedRig

# Run to run: each title's own; session to session: what the contributor's model found common to
# all titles of a session, where it was measured.
_QUERY = """
select rigs.platform, rigs.card, repeatability.workload, run_spread_pct, models.value as session_pct
from repeatability
join rigs using (rig)
join workloads using (workload)
left join spread_models as models
    on models.contributor = rigs.contributor and models.metric = repeatability.metric
    and models.parameter = 'cell_sessions.absolute_pct' and starts_with(models.basis, 'measured')
where repeatability.metric = $metric and workloads.setting_can_act and run_spread_pct is not null
order by rigs.platform, rigs.card, repeatability.workload, repeatability.rig
"""


@dataclass(frozen=True)
class MeasuredSpread:
    """Spreads of a rig by workload, in per cent.

    Attributes:
        runs: Run-to-run spread by workload.
        elsewhere: The same for a workload that wasn't measured on it.
        session_pct: Session-to-session spread.
    """

    runs: Mapping[str, float]
    elsewhere: float
    session_pct: float

    def over(self, workloads: Iterable[str]) -> Spread:
        """Give the spread that counts for a mean over some workloads: the root mean square."""
        values = [self.runs.get(workload, self.elsewhere) for workload in workloads]
        return Spread(_root_mean_square(values), self.session_pct)


def measured_spreads(
    con: duckdb.DuckDBPyConnection, design: Design, rigs: Sequence[PlannedRig]
) -> dict[str, MeasuredSpread]:
    """Give the spreads of the study's first metric, as measured, for planned rigs.

    A rig of which nothing was measured is taken to be as all those that were, together.

    Args:
        con: Connection that holds the derived table ``repeatability``.
        design: The study's design.
        rigs: The planned rigs, found by platform and card.

    Returns:
        Spreads by rig; empty where nothing was measured.
    """
    found = con.execute(_QUERY, {"metric": design.metrics[0]}).fetchall()
    if not found:
        return {}
    by_pair: dict[tuple[str, str], list[tuple[str, float, float | None]]] = defaultdict(list)
    for platform, card, *row in found:
        by_pair[platform, card].append((row[0], row[1], row[2]))
    everywhere = [row for rows in by_pair.values() for row in rows]
    return {
        rig.rig: _spread(by_pair.get((rig.platform, rig.card), everywhere), design) for rig in rigs
    }


def _spread(rows: Sequence[tuple[str, float, float | None]], design: Design) -> MeasuredSpread:
    runs: dict[str, list[float]] = defaultdict(list)
    for workload, run, _ in rows:
        runs[workload].append(run)
    sessions = [session for _, _, session in rows if session is not None]
    between = 0.0 if design.levels_share_sessions else _root_mean_square(sessions)
    return MeasuredSpread(
        {workload: _root_mean_square(values) for workload, values in runs.items()},
        _root_mean_square([run for _, run, _ in rows]),
        between if sessions else declared_spread(design).session_pct,
    )


def _root_mean_square(values: Sequence[float]) -> float:
    return math.sqrt(sum(value**2 for value in values) / len(values)) if values else 0.0
