-- Differences between two rigs.
select
    from_rig, to_rig, workload, resolution, level, metric, contributor,
    difference_pct, low_95_pct, high_95_pct, differs_in
from rig_comparisons
order by from_rig, to_rig, workload, resolution, level, metric
