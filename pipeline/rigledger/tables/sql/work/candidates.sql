-- One row per measured or sentinel run and metric with the value that counts: the preferred origin's, and the other's only
-- for a level that has no value of the preferred one at all. Runs without a usable value (above zero, for its logarithm)
-- keep a row with a blank value, so that they are counted as left out.
with sided as (
    select
        trials.*,
        run_values.metric,
        case when run_values.recomputed > 0 then run_values.recomputed end as recomputed,
        case when run_values.reported > 0 then run_values.reported end as reported,
        run_values.reported_step,
        origins.preferred
    from work.run_values
    join work.trials using (run)
    join work.origins using (alike, metric)
),

sources as (
    select
        tried,
        metric,
        case
            when preferred = 'recomputed' and count(recomputed) = 0 then 'reported'
            when preferred = 'reported' and count(reported) = 0 then 'recomputed'
            else preferred
        end as origin
    from sided
    group by tried, metric, preferred
)

select
    sided.* exclude (recomputed, reported, preferred, reported_step),
    sources.origin,
    case sources.origin when 'recomputed' then sided.recomputed else sided.reported end as value,
    case sources.origin when 'reported' then sided.reported_step end as reported_step
from sided
join sources using (tried, metric)
