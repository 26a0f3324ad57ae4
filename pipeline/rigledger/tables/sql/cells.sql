-- One row per measured cell and metric, then the planned cells that were not measured.
with planned as (
    select distinct *
    from work.planned
),

doubts as (
    select counted.metric, counted.tried, count(*) as runs
    from work.doubtful_runs as doubtful
    join work.counted using (run, metric)
    group by counted.metric, counted.tried
)

select
    cells.rig,
    cells.stack,
    cells.workload,
    cells.title_build,
    cells.resolution,
    cells.level,
    cells.metric,
    rigs.contributor,
    rigs.platform,
    rigs.card,
    metrics.unit,
    planned.rig is not null as planned,
    cells.runs,
    coalesce(planned.runs_required, 0) as runs_required,
    cells.sessions,
    cells.origin,
    cells.geometric_mean,
    statistics.low_95,
    statistics.high_95,
    cells.spread_pct,
    statistics.moderated_spread_pct,
    coalesce(doubts.runs, 0) as doubtful_runs,
    cells.insufficient_frames_runs,
    coalesce(left_out.runs, 0) as runs_left_out,
    cells.level_state,
    partners.no_partner
from work.measured_cells as cells
join rigs on rigs.rig = cells.rig
join metrics on metrics.metric = cells.metric
join work.partners as partners
    on partners.contributor = cells.contributor
    and partners.metric = cells.metric
    and partners.cell = cells.cell
left join work.cell_statistics as statistics
    on statistics.contributor = cells.contributor
    and statistics.metric = cells.metric
    and statistics.cell = cells.cell
left join planned
    on planned.rig = cells.rig
    and planned.workload = cells.workload
    and planned.resolution = cells.resolution
    and planned.level = cells.level
    and planned.metric = cells.metric
left join doubts
    on doubts.metric = cells.metric
    and doubts.tried = cells.tried
left join work.left_out as left_out
    on left_out.metric = cells.metric
    and left_out.tried = cells.tried

union all

select
    planned.rig,
    'unknown' as stack,
    planned.workload,
    'unknown' as title_build,
    planned.resolution,
    planned.level,
    planned.metric,
    rigs.contributor,
    rigs.platform,
    rigs.card,
    metrics.unit,
    true as planned,
    0 as runs,
    planned.runs_required,
    0 as sessions,
    null as origin,
    null as geometric_mean,
    null as low_95,
    null as high_95,
    null as spread_pct,
    null as moderated_spread_pct,
    0 as doubtful_runs,
    0 as insufficient_frames_runs,
    0 as runs_left_out,
    null as level_state,
    'no_runs' as no_partner
from planned
join rigs on rigs.rig = planned.rig
join metrics on metrics.metric = planned.metric
where not planned.measured
