"""A study of any number of runs, drawn from hashes.

Rigs with 8 workloads, 4 resolutions and 2 levels, three passes a cell.
"""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import duckdb

from rigledger.study.design import read_design
from rigledger.study.design_rows import design_rows

if TYPE_CHECKING:
    from rigledger.contract import Contract, Table
    from rigledger.study.design import Design

RUNS_A_RIG = 8 * 4 * 2 * 3
TYPES = {
    "string": "varchar", "integer": "bigint", "number": "double", "boolean": "boolean",
    "date": "date", "datetime": "timestamp",
}  # fmt: skip

STUDY = """
[study]
study = "bench"
title = "Bench"
question = "How long does it take?"
setting = "a switch"
runs_required = 3
rounds_planned = 1
rounds_may_be_added = 0
material_change_pct = 3
session_spread_pct = 0.5
levels_share_sessions = true
metrics = ["average_fps"]
licence = "CC-BY-4.0"
consent_version = "1"
[[authors]]
name = "The rigledger maintainers"
[[levels]]
level = "off"
title = "off"
baseline = true
[[levels]]
level = "on"
title = "on"
[[plan]]
resolutions = ["1280x720", "1920x1080", "2560x1440", "3840x2160"]
"""
PLATFORM = (
    '[[platforms]]\nplatform = "p{n}"\nfamily = "F"\nprocessor = "P"\n'
    'board = "B"\nmemory_kit = "M"\n'
)
CARD = '[[cards]]\ncard = "c{n}"\nmodel = "C"\nclass = "card"\n'
WORKLOAD = (
    '[[workloads]]\nworkload = "w{n}"\ntitle = "W"\nkind = "scene"\npreset = "high"\n'
    'graphics_api = "G"\npassage = "whole"\npassage_length_s = 60\n'
)

# Rigs come in contributors of eight: four platforms with two cards each.
ROWS = {
    "contributors": """
        select distinct
            'c' || rig // 8 as contributor, 'C' as shown_name, null as public_key,
            null as related_to
        from range($rigs) as rigs (rig)""",
    "sets": """
        select contributor || '.first' as set_id, contributor, date '2026-10-05',
            repeat('0', 64), null, 'admitted', 'CC-BY-4.0', '1', null, null
        from contributors""",
    "stacks": """
        select contributor || '.stack-000000000000', contributor, 'F', null, 'D', null, 'none', 'O',
            '1', null, 'default'
        from contributors""",
    "rigs": """
        select 'c' || rig // 8 || '.r' || rig % 8, 'c' || rig // 8, 'p' || rig % 8 // 2,
            'c' || rig % 2, 'unknown', 'unknown', 'unknown'
        from range($rigs) as rigs (rig)""",
    "sessions": """
        select rig || '.1', contributor || '.first', rig, contributor || '.stack-000000000000',
            1, 1, date '2026-10-05', null
        from rigs""",
    "runs": """
        select session || '.' || n, session, 'w' || n % 8, '1',
            ['1280x720', '1920x1080', '2560x1440', '3840x2160'][n // 8 % 4 + 1],
            ['off', 'on'][n // 32 % 2 + 1], 'effective', null, 'measured', null, n // 64 + 1, n + 1,
            null, null, null, null, null
        from sessions, range(192) as numbers (n)""",
    "measurements": """
        select run, 'average_fps', 'reported',
            round(exp(4 + (hash(workload || resolution) % 100) / 100 + (level = 'on')::int * 0.02
                + (hash(run) % 2001 - 1000.0) / 1e5 * (1 + hash(workload) % 5)), 1),
            0.1, null
        from runs""",
}


def study_design() -> Design:
    """Give the design of the simulated study: 4 platforms, 2 cards, 8 workloads, 4 resolutions."""
    parts = [
        STUDY,
        *(PLATFORM.format(n=n) for n in range(4)),
        *(CARD.format(n=n) for n in range(2)),
        *(WORKLOAD.format(n=n) for n in range(8)),
    ]
    with TemporaryDirectory() as folder:
        path = Path(folder) / "study.toml"
        path.write_text("".join(parts), encoding="utf-8")
        return read_design(path)


def study_source(design: Design, contract: Contract, runs: int) -> duckdb.DuckDBPyConnection:
    """Fill the source tables of a connection.

    Args:
        design: As of `study_design`.
        contract: The contract.
        runs: Runs wanted; rigs are whole, of 192 runs each.
    """
    con = duckdb.connect(config={"threads": 2})
    for table in contract.group("source"):
        con.execute(f"create table {table.name} ({_columns(table)})")
    for name, rows in design_rows(design, contract).items():
        marks = ", ".join("?" for _ in contract.table("source", name).field_names)
        if rows:
            con.executemany(
                f"insert into {name} values ({marks})", [list(row.values()) for row in rows]
            )
    for name, query in ROWS.items():
        wanted = {"rigs": round(runs / RUNS_A_RIG)} if "$rigs" in query else {}
        con.execute(f"insert into {name} {query}", wanted)
    return con


def _columns(table: Table) -> str:
    return ", ".join(f'"{held.name}" {TYPES[held.type]}' for held in table.fields)
