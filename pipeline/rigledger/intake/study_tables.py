"""Puts a study's design into the schema ``study``, where the rules read it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.contract.cells import SQL_TYPES
from rigledger.contract.sql_text import identifier
from rigledger.intake.cells import in_words
from rigledger.intake.texttable import make_table
from rigledger.study.design_rows import design_rows
from rigledger.study.model import PlannedRig

if TYPE_CHECKING:
    from collections.abc import Collection

    import duckdb

    from rigledger.contract.model import Contract, Table
    from rigledger.study.model import Design


# What handed.names is held against: the names that the study has, of each kind.
_NAMES = (
    "CREATE VIEW study.names AS SELECT 'platform' AS kind, platform AS name FROM study.platforms"
    " UNION ALL SELECT 'card', card FROM study.cards"
    " UNION ALL SELECT 'workload', workload FROM study.workloads"
    " UNION ALL SELECT 'level', level FROM study.levels"
)


def begin_study(con: duckdb.DuckDBPyConnection, design: Design, contract: Contract) -> None:
    """Fill the tables of ``study.*`` that follow from a design alone.

    Args:
        con: The database.
        design: The study's design.
        contract: The contract.
    """
    for name, rows in design_rows(design, contract).items():
        _fill(con, contract.table("source", name), rows)
    _required(con, design)
    sentinels = [[held.workload, held.resolution] for held in design.sentinels]
    words = {"workload": "VARCHAR", "resolution": "VARCHAR"}
    make_table(con, "study.sentinels", words, sentinels)
    con.execute(
        "CREATE TABLE study.settings AS SELECT $study AS study, $runs AS runs_required, $rounds "
        "AS rounds_planned,"
        " $further AS rounds_may_be_added, $material::DOUBLE AS material_change_pct,"
        " $share AS levels_share_sessions, $licence AS licence, $consent AS consent_version, "
        "$prior::DOUBLE AS"
        " spread_prior_pct, $session::DOUBLE AS session_spread_pct",
        {
            "study": design.study,
            "runs": design.runs_required,
            "rounds": design.rounds_planned,
            "further": design.rounds_may_be_added,
            "material": design.material_change_pct,
            "share": design.levels_share_sessions,
            "licence": design.licence,
            "consent": design.consent_version,
            "prior": design.spread_prior_pct,
            "session": design.session_spread_pct,
        },
    )


def make_study(con: duckdb.DuckDBPyConnection, design: Design, handed_in: Collection[str]) -> None:
    """Fill the rest of ``study.*``, which follows from the rigs of the set at hand too.

    Args:
        con: The database, with what `begin_study` fills, ``handed.rigs``, ``handed.platforms`` and
            ``handed.cards``.
        design: The study's design.
        handed_in: The tables that the set has.
    """
    for name in ("platforms", "cards"):
        if name in handed_in:
            proposed = f"SELECT * EXCLUDE (_row) FROM handed.{name}"
            con.execute(f"INSERT INTO study.{name} BY NAME {proposed}")
    con.execute(_NAMES)
    _plan_models(con, design)


def add_caps(con: duckdb.DuckDBPyConnection) -> None:
    """Add the caps that the study states to the rates at which a title is often capped."""
    con.execute(
        "INSERT INTO handed.rates SELECT workload, frame_cap_fps FROM study.workloads"
        " WHERE frame_cap_fps IS NOT NULL"
    )


def _fill(con: duckdb.DuckDBPyConnection, table: Table, rows: list[dict[str, Any]]) -> None:
    columns = {field.name: SQL_TYPES[field.type] for field in table.fields}
    values = [[row[name] for name in columns] for row in rows]
    make_table(con, f"study.{identifier(table.name)}", columns, values)


def _plan_models(con: duckdb.DuckDBPyConnection, design: Design) -> None:
    """Plan the cells of each platform and card once, to be given to every such rig."""
    con.execute(
        "CREATE TABLE study.planned_models (platform VARCHAR, card VARCHAR, workload VARCHAR,"
        " resolution VARCHAR, level VARCHAR)"
    )
    pairs = con.execute(
        "SELECT DISTINCT platform, card, class FROM handed.rigs LEFT JOIN study.cards USING (card)"
        " WHERE platform IS NOT NULL AND card IS NOT NULL ORDER BY ALL LIMIT 1000"
    ).fetchall()
    for platform, card, kind in pairs:
        cells = design.planned_cells([PlannedRig(card, platform, card, kind)])
        columns = [
            list(column)
            for column in zip(*((c.workload, c.resolution, c.level) for c in cells), strict=True)
        ]
        if columns:
            con.execute(
                "INSERT INTO study.planned_models SELECT ?, ?, unnest(?), unnest(?), unnest(?)",
                [platform, card, *columns],
            )


def plan_cells(con: duckdb.DuckDBPyConnection, design: Design) -> None:
    """Create ``study.planned``: the cells that are planned for each rig of the set.

    Args:
        con: The database, with what `make_study` fills and ``handed.runs``.
        design: The study's design.
    """
    rigs = in_words(con, "handed.rigs", ("rig",))
    models = in_words(con, "study.planned_models", ("workload", "resolution", "level"))
    con.execute(
        "CREATE TABLE study.planned AS SELECT r.rig, p.workload, p.resolution, p.level,"
        f" {design.runs_required} AS runs_required"
        f" FROM ({rigs}) AS r JOIN ({models}) AS p USING (platform, card)"
    )


def _required(con: duckdb.DuckDBPyConnection, design: Design) -> None:
    rows = [[held.workload, metric] for held in design.workloads for metric in held.metrics]
    words = {"workload": "VARCHAR", "metric": "VARCHAR"}
    make_table(con, "study.required_metrics", words, rows)
