-- The comparisons that a reader sees: the latest of each, with the versions they were measured on.
select
    comparisons.rig,
    comparisons.stack,
    comparisons.workload,
    comparisons.title_build,
    comparisons.resolution,
    comparisons.contrast,
    comparisons.metric,
    comparisons.from_level,
    comparisons.to_level,
    comparisons.change_pct,
    comparisons.direction,
    comparisons.size,
    comparisons.stale,
    stacks.* exclude (stack, contributor)
from comparisons
join stacks on stacks.stack = comparisons.stack
where comparisons.current
order by
    comparisons.rig, comparisons.workload, comparisons.resolution, comparisons.contrast,
    comparisons.metric
