-- One row per run that takes part in the statistics, with whole numbers in place of names.
select
    numbers.contributor,
    counted.metric,
    counted.run,
    numbers.cell,
    dense_rank() over (
        partition by numbers.contributor, counted.metric order by counted.session
    ) - 1 as session,
    counted.round,
    counted.pass_block,
    counted.value,
    counted.reported_step
from work.counted
join work.cell_numbers as numbers using (metric, tried)
