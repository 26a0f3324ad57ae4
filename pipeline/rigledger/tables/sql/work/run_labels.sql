-- One row per run that takes part in the statistics, with whole numbers in place of names.
select
    contributor,
    metric,
    run,
    cell,
    dense_rank() over (partition by contributor, metric order by session) - 1 as session,
    round,
    pass_block,
    value,
    reported_step
from work.counted
