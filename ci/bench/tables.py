"""Time of the derived tables: cells against DuckDB's bare group by, and the whole build.

The runs are drawn from hashes: rigs with 8 workloads, 4 resolutions and 2 levels, three passes a
cell, so 1,000 runs make about 170 comparisons and 100,000 about 16,700.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import duckdb

from rigledger.contract import load_contract
from rigledger.study.design import read_design
from rigledger.study.design_rows import design_rows
from rigledger.tables.build import DERIVED_TABLES, FILLERS, build_tables
from rigledger.tables.workshop import SQL_FOLDER, workshop

if TYPE_CHECKING:
    from collections.abc import Callable

    from rigledger.contract import Contract, Table
    from rigledger.study.design import Design

MOST_RATIO = 3.0
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
        select distinct 'c' || rig // 8 as contributor, 'C' as shown_name, null as public_key, null as related_to
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

# What anyone would write first: the same cells from the same rows, without order of summing,
# sessions or state of the level.
BARE = """
    create or replace temp table bare as
    select
        cells.rig, cells.stack, cells.workload, cells.title_build, cells.resolution, cells.level,
        counted.metric, count(*), exp(avg(ln(value))), stddev(ln(value))
    from work.counted
    join work.tried_cells as cells using (tried)
    group by all
"""


def main() -> int:
    """Print the figures; 1 where grouping the runs into cells takes longer than it may."""
    quick = _arguments().quick
    contract, design = load_contract(), _design()
    for wanted in (1_000, 20_000 if quick else 100_000):
        con = _source(design, contract, wanted)
        ratio = _print_figures(con, design, contract)
    print(f"asked for: cells of 100,000 runs within x {MOST_RATIO:.0f} of the bare group by")
    return 0 if ratio <= MOST_RATIO else 1


def _print_figures(con: duckdb.DuckDBPyConnection, design: Design, contract: Contract) -> float:
    runs = con.execute("select count(*) from runs").fetchall()[0][0]
    with workshop(con, design, contract, FILLERS) as shop:
        start = time.perf_counter()
        shop.need("counted", "cell_numbers")
        before = time.perf_counter() - start
        bare = _best(lambda: con.execute(BARE))
        cells = _best(lambda: _cells(con))
    whole = _time(lambda: build_tables(con, design, contract))
    pairs = con.execute("select count(*) from comparisons").fetchall()[0][0]
    print(
        f"{runs:>7} runs: bare group by {1000 * bare:.0f} ms, cells {1000 * cells:.0f} ms "
        f"(x {cells / bare:.2f}), finding the runs that count {1000 * before:.0f} ms before; "
        f"all {len(DERIVED_TABLES)} tables with statistics {whole:.1f} s ({pairs} comparisons)"
    )
    return cells / bare


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="20,000 runs instead of 100,000")
    return parser.parse_args()


def _design() -> Design:
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


def _source(design: Design, contract: Contract, runs: int) -> duckdb.DuckDBPyConnection:
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


def _cells(con: duckdb.DuckDBPyConnection) -> None:
    """Group the runs that count as the tables do: by session, then by cell, sums in order."""
    for name in ("cell_sessions", "measured_cells"):
        query = (SQL_FOLDER / "work" / f"{name}.sql").read_text(encoding="utf-8")
        con.execute(f"create or replace table work.{name} as {query}")


def _best(action: Callable[[], object]) -> float:
    return min(_time(action) for _ in range(9))


def _time(action: Callable[[], object]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


if __name__ == "__main__":
    sys.exit(main())
