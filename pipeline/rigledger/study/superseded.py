"""Keeps what superseded sets said where the later set says otherwise, and what replaced it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.database import connect
from rigledger.intake.normalise import load_set
from rigledger.study.admitted import check_unaltered
from rigledger.tabular import create_tables

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract import Contract
    from rigledger.study.decisions import Decisions
    from rigledger.study.layout import StudyFolder

_OLD_VALUES = """
select sessions.set_id, runs.run, measurements.metric, workload, title_build, resolution, level,
       role, value, cast($newer as varchar) as superseded_by
from measurements join runs using (run) join sessions using (session)
where measurements.origin = 'reported'
"""
_DIFFERING = """
insert into superseded_values
select old.*, now.value
from old_values as old
left join measurements as now
    on now.run = old.run and now.metric = old.metric and now.origin = 'reported'
where now.value is distinct from old.value
"""


def load_superseded(
    con: duckdb.DuckDBPyConnection,
    study: StudyFolder,
    decisions: Decisions,
    contract: Contract,
) -> None:
    """Fill ``superseded_values`` from the sets that a later set replaced.

    A revision that only adds to the set before leaves no row. Frame times of a superseded set stay
    where they are and are not recomputed.

    Args:
        con: Holds the source tables of the sets in force, corrections not applied yet.
        study: The study.
        decisions: Its decisions.
        contract: The contract.

    Raises:
        StudyError: A superseded set's folder is missing or was altered.
    """
    for item in sorted(decisions.decisions, key=lambda held: held.set_id):
        if decisions.state(item.set_id) != "superseded":
            continue
        check_unaltered(study, item)
        with connect() as scratch:
            create_tables(scratch, contract.group("source"))
            load_set(scratch, study.set_folder(item.set_id), study.root)
            newer = {"newer": decisions.superseded_by(item.set_id)}
            old = scratch.sql(_OLD_VALUES, params=newer).to_arrow_table()
            con.register("old_values", old)
            con.execute(_DIFFERING)
            con.unregister("old_values")
