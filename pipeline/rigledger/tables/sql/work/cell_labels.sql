-- One row per cell that takes part in the statistics (measured and sentinel cells), with whole numbers in place of names.
-- Numbers are given within one contributor and metric, so that nobody else's cells can change them.
select
    contributor,
    metric,
    cell,
    role = 'sentinel' as sentinel,
    dense_rank() over (partition by contributor, metric order by rig) - 1 as rig,
    dense_rank() over (partition by contributor, metric order by workload) - 1 as workload,
    dense_rank() over (partition by contributor, metric order by resolution) - 1 as resolution,
    dense_rank() over (partition by contributor, metric order by level) - 1 as level
from work.cell_numbers
