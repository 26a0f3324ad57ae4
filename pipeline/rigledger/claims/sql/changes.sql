-- The latest comparison of each cell, with the numbers from which any interval of it follows; one without a verdict says why.
select
    rig, stack, workload, title_build, resolution, contrast, metric, contributor, platform, card,
    change_pct, low_95_pct, high_95_pct, high_90_pct, high_decision_pct, size, no_verdict, stale
from comparisons
where current
order by rig, workload, resolution, contrast, metric
