-- Every comparison as a figure: the change of the setting in one place, in per cent.
select
    comparisons.rig, comparisons.contributor, comparisons.platform, comparisons.card,
    comparisons.workload, workloads.title, comparisons.resolution, comparisons.contrast,
    comparisons.metric, comparisons.stack, comparisons.title_build,
    comparisons.change_pct as value, comparisons.low_95_pct as low,
    comparisons.high_95_pct as high, '%' as unit, metrics.direction as better,
    comparisons.direction, comparisons.no_verdict, comparisons.current, comparisons.stale,
    comparisons.from_value, comparisons.to_value,
    doubts.doubtful_runs
from comparisons
join workloads using (workload)
join metrics using (metric)
left join (
    select rig, stack, workload, title_build, resolution, metric, sum(doubtful_runs) as doubtful_runs
    from cells
    group by all
) as doubts
    using (rig, stack, workload, title_build, resolution, metric)
order by comparisons.rig, comparisons.workload, comparisons.resolution, comparisons.contrast,
         comparisons.metric, comparisons.stack, comparisons.title_build
