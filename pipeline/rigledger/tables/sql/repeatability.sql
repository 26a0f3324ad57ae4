-- Run-to-run and session-to-session spread of each workload on each rig, over its measured and sentinel cells: one-way
-- analysis of variance of ln value by session within each cell, sums over the cells (unbalanced method of moments; Searle, Casella and
-- McCulloch 1992, Variance Components, ch. 3). Negative session variance is shown as 0.
with totals as (
    select
        metric, tried,
        count(*) as sessions,
        cast(sum(runs) as bigint) as runs,
        cast(sum(runs * runs) as bigint) as runs_squared,
        list_sum(list(squares order by session)) as within_squares,
        list_sum(list(runs * ln_mean order by session)) / sum(runs) as ln_mean
    from work.cell_sessions
    group by metric, tried
),

deviations as (
    select
        totals.metric, totals.tried,
        list_sum(list(
            held.runs * pow(held.ln_mean - totals.ln_mean, 2) order by held.session
        )) as between_squares
    from totals
    join work.cell_sessions as held using (metric, tried)
    group by totals.metric, totals.tried
),

pooled as (
    select
        cells.rig, cells.workload, cells.contributor, totals.metric,
        count(*) as cells,
        cast(sum(totals.runs) as bigint) as runs,
        cast(sum(totals.runs) - sum(totals.sessions) as bigint) as within_df,
        cast(sum(totals.sessions) - count(*) as bigint) as between_df,
        list_sum(list(totals.within_squares order by cells.tried)) as within_squares,
        list_sum(list(deviations.between_squares order by cells.tried)) as between_squares,
        list_sum(list(
            totals.runs - totals.runs_squared / totals.runs order by cells.tried
        )) as runs_apart
    from totals
    join deviations using (metric, tried)
    join work.tried_cells as cells using (tried)
    group by cells.rig, cells.workload, cells.contributor, totals.metric
),

sessions_of as (
    select cells.rig, cells.workload, held.metric, count(distinct held.session) as sessions
    from work.cell_sessions as held
    join work.tried_cells as cells using (tried)
    group by cells.rig, cells.workload, held.metric
)

select
    pooled.rig,
    pooled.workload,
    pooled.metric,
    pooled.contributor,
    pooled.cells,
    pooled.runs,
    sessions_of.sessions,
    case when within_df > 0 then 100 * sqrt(within_squares / within_df) end as run_spread_pct,
    case
        when within_df > 0 and between_df > 0
            then 100 * sqrt(greatest(
                0, (between_squares - between_df * within_squares / within_df) / runs_apart
            ))
    end as session_spread_pct
from pooled
join sessions_of using (rig, workload, metric)
