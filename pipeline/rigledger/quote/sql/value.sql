-- Every cell as a figure: the geometric mean of its runs in the metric's unit; planned cells without runs have none.
select
    cells.rig, cells.contributor, cells.platform, cells.card, cells.workload, workloads.title,
    cells.resolution, cells.level, cells.metric, cells.stack, cells.title_build,
    cells.geometric_mean as value, cells.low_95 as low, cells.high_95 as high, cells.unit,
    metrics.direction as better, cells.no_partner, cells.doubtful_runs,
    cells.runs = 0 or newest.boot = max(newest.boot) over (
        partition by cells.rig, cells.workload, cells.resolution
    ) as current
from cells
join workloads using (workload)
join metrics using (metric)
left join (
    select rig, stack, workload, title_build, resolution, max(boot) as boot
    from runs_wide
    where role = 'measured'
    group by all
) as newest
    using (rig, stack, workload, title_build, resolution)
order by cells.rig, cells.workload, cells.resolution, cells.level, cells.metric, cells.stack,
         cells.title_build
