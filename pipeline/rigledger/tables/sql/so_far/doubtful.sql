-- Cells of one contributor with doubtful runs, a line each.
select
    format(
        '{}, {}, {}, {}: {} of {} runs ({})',
        rig, workload, resolution, level, doubtful_runs, runs, string_agg(metric, ', ' order by metric)
    ) as line
from cells
where contributor = ? and doubtful_runs > 0
group by rig, workload, resolution, level, stack, title_build, doubtful_runs, runs
order by line
