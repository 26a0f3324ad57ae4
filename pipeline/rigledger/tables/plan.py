"""What the study asks for, as tables that the queries can join: plan and title sets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.study.design import PlannedRig

if TYPE_CHECKING:
    from rigledger.tables.workshop import Workshop


def fill_plan(shop: Workshop) -> None:
    """Fill ``work.plan``: one row per planned cell and metric that its workload requires."""
    import polars as pl

    design = shop.design
    rigs = shop.frame(
        "select rig, platform, card, class from rigs join cards using (card) order by rig"
    ).rows()
    metrics = {held.workload: held.metrics for held in design.workloads}
    rows = [
        (cell.rig, cell.workload, cell.resolution, cell.level, metric, design.runs_required)
        for cell in design.planned_cells([PlannedRig(*rig) for rig in rigs])
        for metric in metrics[cell.workload]
    ]
    names = ("rig", "workload", "resolution", "level", "metric")
    schema = dict.fromkeys(names, pl.String()) | {"runs_required": pl.Int64()}
    shop.fill("plan", pl.DataFrame(rows, schema=schema, orient="row"))


def fill_title_sets(shop: Workshop) -> None:
    """Fill ``work.title_sets``: one row per named set and workload."""
    import polars as pl

    rows = [
        (held.title_set, workload) for held in shop.design.title_sets for workload in held.workloads
    ]
    schema = {"title_set": pl.String(), "workload": pl.String()}
    shop.fill("title_sets", pl.DataFrame(rows, schema=schema, orient="row"))


def fill_run_totals(shop: Workshop) -> None:
    """Make ``work.run_totals``: one row per run with values, with a column per metric.

    Beside them where the values come from, the frames that were counted, and the reported average.
    """
    held = set(shop.frame("select distinct metric from work.run_values")["metric"])
    columns = ", ".join(
        f'{_total(name) if name in held else "cast(null as double)"} as "{name}"'
        for name in shop.contract.metrics
    )
    shop.make_work(
        "run_totals",
        f"""select
    run,
    max(frames) as frames,
    max(reported) filter (metric = 'average_fps') as reported_average,
    case
        when count(recomputed) = count(*) then 'recomputed'
        when count(recomputed) = 0 then 'reported'
        else 'both'
    end as origin,
    {columns}
from work.run_values
group by run""",
    )


def _total(metric: str) -> str:
    return f"max(coalesce(recomputed, reported)) filter (metric = '{metric}')"
