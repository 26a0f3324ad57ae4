"""Fills a study's source tables: design, sets in force, recomputed values, corrections."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from rigledger.captures.metrics import frame_metrics
from rigledger.contract import load_contract
from rigledger.contract.sql_text import identifier
from rigledger.intake.captures import keys_of_metrics
from rigledger.signing import SIGNER, read_public_key
from rigledger.study.apply import apply_corrections
from rigledger.study.begun import begin_source
from rigledger.study.decisions import Decision, Decisions, read_decisions
from rigledger.study.housekeeping import keep_out_of_versions
from rigledger.study.rows import insert_rows
from rigledger.study.superseded import load_superseded
from rigledger.tabular import order_by

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract import Contract, Metric, Table
    from rigledger.remembered import Remembered
    from rigledger.study.begun import Begun
    from rigledger.study.layout import StudyFolder
    from rigledger.study.model import Design


def load_source(
    study: StudyFolder,
    con: duckdb.DuckDBPyConnection,
    contract: Contract | None = None,
    *,
    contributor: str | None = None,
    begun: Begun | None = None,
) -> Design:
    """Fill a connection with every source table of the contract.

    Captures are stored again from the sets where the store was not kept, as in a fresh checkout.
    Sets that were superseded or withdrawn leave a row in ``sets``; of the superseded ones, values
    that were replaced by others stay in ``superseded_values``. Metrics are
    recomputed from the captures that are here; corrections are applied last. Every table is there,
    also an empty one, with the contract's columns, ordered by its primary key; the order in which
    sets were admitted leaves no trace but where two sets of one contributor state the same rig,
    stack or name differently: the newer set's words stand.

    Args:
        study: The study.
        con: Gets the tables; tables of these names are replaced.
        contract: The contract; None for this version's.
        contributor: Load the sets of this one alone; None for everybody's.
        begun: What was begun in ``con`` for this study and everybody's sets, and still holds.

    Returns:
        The design.

    Raises:
        StudyError: A file of the study is wrong, an admitted set's folder is missing or was
            altered, a rig is stated with two platforms or cards, or a correction no longer fits.
    """
    contract = contract or load_contract()
    decisions = read_decisions(study.decisions, contract)
    if contributor is not None:
        decisions = decisions.of(contributor)
    begun = begun or begin_source(study, con, contract)
    sets, remembered = begun.sets, begun.sets.remembered
    sets.load(decisions)
    insert_rows(con, "sets", set_rows(decisions))
    sets.join_shared(decisions)
    _name_the_gone(con)
    _state_keys(con, study, decisions)
    _recompute(con, study, contract, remembered)
    if keep_out_of_versions(study):
        remembered.keep(forget=contributor is None)
    load_superseded(con, study, decisions, contract)
    own = None if contributor is None else f"{contributor}."
    corrections = (one for one in begun.corrections if own is None or one.session.startswith(own))
    apply_corrections(con, tuple(corrections), contract)
    for table in contract.group("source"):
        _order(con, table)
    return begun.design


def set_rows(decisions: Decisions) -> list[dict[str, Any]]:
    """Give the rows of the source table ``sets``: every set ever admitted, and its state."""
    return [_set_row(decisions, item) for item in decisions.decisions]


def _set_row(decisions: Decisions, item: Decision) -> dict[str, Any]:
    withdrawal = decisions.withdrawal(item.set_id)
    newer = decisions.superseded_by(item.set_id)
    reason = f"superseded by {newer}" if newer else None
    return {
        "set_id": item.set_id,
        "contributor": item.contributor,
        "received_on": item.received_on,
        "sha256": item.sha256,
        "supersedes": item.supersedes,
        "state": decisions.state(item.set_id),
        "licence": item.licence,
        "consent_version": item.consent_version,
        "embargo_until": item.embargo_until,
        "reason": withdrawal.reason if withdrawal else reason,
    }


def _name_the_gone(con: duckdb.DuckDBPyConnection) -> None:
    """Give contributors of whom no set is left a row that holds no more than their short name."""
    con.execute(
        """
        insert into contributors (contributor, shown_name)
        select distinct contributor, contributor from sets
        where contributor not in (select contributor from contributors)
        """
    )


def _state_keys(con: duckdb.DuckDBPyConnection, study: StudyFolder, decisions: Decisions) -> None:
    """State the keys with which contributors signed their sets; the newest set's stands."""
    for item in sorted(decisions.in_force, key=lambda held: (held.received_on, held.set_id)):
        if item.signed_with is not None:
            key = read_public_key(study.set_folder(item.set_id) / SIGNER)
            con.execute(
                "update contributors set public_key = ? where contributor = ?",
                [key.line, item.contributor],
            )


def _recompute(
    con: duckdb.DuckDBPyConnection, study: StudyFolder, contract: Contract, remembered: Remembered
) -> None:
    """Add the metrics of each run whose capture is here, computed once for its window of it."""
    metrics = tuple(contract.metrics.values())
    key_of = keys_of_metrics(metrics)
    keys = {str(run): key_of(*window) for run, *window in con.execute(_WINDOWS).fetchall()}
    unknown = [run for run, key in keys.items() if not remembered.knows(key)]
    found = _metrics_of(con, study, metrics, unknown) if unknown else {}
    rows = [
        (run, *row)
        for run, key in keys.items()
        for row in remembered.recall(key, partial(found.get, run, []))
    ]
    if rows:
        con.execute(
            "insert into measurements (run, metric, origin, value, frames) "
            "select unnest(?), unnest(?), 'recomputed', unnest(?::double[]), unnest(?::bigint[])",
            [list(column) for column in zip(*rows, strict=True)],
        )


_WINDOWS = """
select run, capture, capture_from_s, capture_for_s
from runs join captures using (capture)
where captures.state = 'here' order by run
"""


def _metrics_of(
    con: duckdb.DuckDBPyConnection,
    study: StudyFolder,
    metrics: tuple[Metric, ...],
    runs: list[str],
) -> dict[str, list[list[Any]]]:
    """Compute the metrics of runs: metric, value and frames, in the order of metrics."""
    folder = study.captures.resolve().as_posix()
    con.execute(
        f"""
        create or replace temp table capture_windows as
        select run, $folder || '/' || capture || '.parquet' as capture_file,
               capture_from_s as from_s, capture_for_s as for_s
        from ({_WINDOWS}) semi join (select unnest($runs) as run) using (run)
        """,
        {"folder": folder, "runs": runs},
    )
    frame_metrics(con, "capture_windows", metrics)
    found: dict[str, list[list[Any]]] = {}
    query = "select run, metric, value, frames from frame_metrics order by run, metric"
    for run, *row in con.execute(query).fetchall():
        found.setdefault(run, []).append(row)
    con.execute("drop table capture_windows; drop table frame_metrics")
    return found


def _order(con: duckdb.DuckDBPyConnection, table: Table) -> None:
    name = identifier(table.name)
    ordered = f"select * from {name} t order by {order_by(table)}"
    con.execute(f"create or replace table {name} as {ordered}")
