-- One row per run that takes part in the statistics, with whole numbers in place of names.
with sessions_of as (
    select
        numbers.contributor,
        held.metric,
        held.session,
        any_value(held.round) as round,
        row_number() over (
            partition by numbers.contributor, held.metric order by held.session
        ) - 1 as number
    from work.cell_sessions as held
    join work.cell_numbers as numbers using (metric, tried)
    group by numbers.contributor, held.metric, held.session
)

select
    numbers.contributor,
    counted.metric,
    counted.run,
    numbers.cell,
    sessions_of.number as session,
    sessions_of.round,
    counted.pass_block,
    counted.value,
    counted.reported_step
from work.counted
join work.cell_numbers as numbers using (metric, tried)
join sessions_of
    on sessions_of.contributor = numbers.contributor
    and sessions_of.metric = counted.metric
    and sessions_of.session = counted.session
