"""Time of the derived tables: cells against DuckDB's bare group by, and the whole build.

Two comparisons are printed. *Grouping*: the runs that count, found before, are grouped into cells
by the tables' statements and by a bare group by; this one is held to the bound. *From the source
tables*: all statements from `runs` and `measurements` to the cells, against one bare group by over
measurements joined to runs, sessions and sets. Those statements also choose the origin of the
values level by level, tell whether passes are blocks, count frames, number the cells for the
statistics and add in a fixed order, each into a table that others need, too; the bare one does
none of that. It is printed, not judged.

1,000 simulated runs make about 170 comparisons, 100,000 about 16,700.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from results import Figure, Results, asked, seconds
from simulated_study import study_design, study_source

from rigledger.contract import load_contract
from rigledger.tables.build import DERIVED_TABLES, FILLERS, build_tables
from rigledger.tables.workshop import SQL_FOLDER, workshop

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract import Contract
    from rigledger.study.design import Design

MOST_RATIO, TIMES = 3.0, 9
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

BARE_FROM_SOURCE = """
    create or replace temp table bare as
    select
        sessions.rig, sessions.stack, runs.workload, runs.title_build, runs.resolution, runs.level,
        metric, count(*), exp(avg(ln(value))), stddev(ln(value))
    from measurements
    join runs using (run)
    join sessions using (session)
    join sets using (set_id)
    where runs.role = 'measured' and sets.state = 'admitted'
    group by all
"""


def main() -> int:
    """Print the figures; 1 where grouping the runs into cells takes longer than it may."""
    given = asked(__doc__, "60,000 runs instead of 100,000")
    results = Results("tables", given.quick)
    contract, design = load_contract(), study_design()
    # Of few runs most is what any statement costs: those are printed, not judged.
    sizes = {1_000: None, 60_000 if given.quick else 100_000: MOST_RATIO}
    for wanted, most in sizes.items():
        con = study_source(design, contract, wanted)
        ratio, whole = _print_figures(con, design, contract)
        name = f"{wanted:,} runs into cells, beside the bare group by"
        results.keep(Figure(name, ratio, "x", most))
        results.report("s", {f"{wanted:,} runs into all tables": whole})
    print(f"asked for: cells of 100,000 runs within x {MOST_RATIO:.0f} of the bare group by;")
    print("held to it: the grouping (see the head of this file)")
    return results.close(given.json)


def _print_figures(
    con: duckdb.DuckDBPyConnection, design: Design, contract: Contract
) -> tuple[float, float]:
    """Print a line; gives the ratio of the grouping, and the seconds of the whole build."""
    runs = con.execute("select count(*) from runs").fetchall()[0][0]
    from_source = seconds(lambda: con.execute(BARE_FROM_SOURCE), TIMES)
    with workshop(con, design, contract, FILLERS) as shop:
        before = seconds(lambda: shop.need("counted", "cell_numbers"))
        bare = seconds(lambda: con.execute(BARE), TIMES)
        cells = seconds(lambda: _cells(con), TIMES)
    whole = seconds(lambda: build_tables(con, design, contract))
    pairs = con.execute("select count(*) from comparisons").fetchall()[0][0]
    chain = before + cells
    print(
        f"{runs:>7} runs: grouping {1000 * bare:.0f} ms bare, {1000 * cells:.0f} ms as cells "
        f"(x {cells / bare:.2f}); from the source tables {1000 * from_source:.0f} ms bare, "
        f"{1000 * chain:.0f} ms as cells (x {chain / from_source:.1f}); "
        f"all {len(DERIVED_TABLES)} tables with statistics {whole:.1f} s ({pairs} comparisons)"
    )
    return cells / bare, whole


def _cells(con: duckdb.DuckDBPyConnection) -> None:
    """Group the runs that count as the tables do: by session, then by cell, sums in order."""
    for name in ("cell_sessions", "measured_cells"):
        query = (SQL_FOLDER / "work" / f"{name}.sql").read_text(encoding="utf-8")
        con.execute(f"create or replace table work.{name} as {query}")


if __name__ == "__main__":
    sys.exit(main())
