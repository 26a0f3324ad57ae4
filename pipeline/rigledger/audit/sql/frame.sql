-- Cells of one metric that a reader sees: the latest of each rig, workload, resolution and level, with its stack's versions
-- and its runs before the day from which the new version counts.
with before as (
    select counted.metric, counted.tried, count(*) as runs
    from work.counted
    join sessions on sessions.session = counted.session
    where sessions.started_on < $since
    group by counted.metric, counted.tried
)

select
    cells.contributor,
    cells.rig,
    cells.workload,
    cells.resolution,
    cells.level,
    cells.stack,
    cells.title_build,
    cells.cell as place,
    coalesce(before.runs, 0) as runs,
    cells.ineffective or cells.insufficient_frames_runs > 0 as unusable,
    stacks.* exclude (stack, contributor)
from work.measured_cells as cells
join stacks on stacks.stack = cells.stack
left join before on before.metric = cells.metric and before.tried = cells.tried
where cells.metric = $metric
qualify row_number() over (
    partition by cells.rig, cells.workload, cells.resolution, cells.level
    order by cells.last_boot desc, cells.last_position desc, cells.title_build desc
) = 1
order by cells.rig, cells.workload, cells.resolution, cells.level
