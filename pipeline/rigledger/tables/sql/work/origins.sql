-- Which origin each cell and metric uses. Cells that differ in the level alone use the same, so that levels are compared like
-- with like: recomputed where every run has it, else reported where every run has it, else whichever more runs have. The
-- other's is used only for a level that has no value of the preferred one at all. Usable is a value above zero, for its
-- logarithm; `runs` counts the others too, so that they are counted as left out.
with held as (
    select
        trials.tried,
        trials.alike,
        run_values.metric,
        count(*) as runs,
        count(*) filter (run_values.recomputed > 0) as recomputed,
        count(*) filter (run_values.reported > 0) as reported
    from work.run_values
    join work.trials using (run)
    group by trials.tried, trials.alike, run_values.metric
),

preferences as (
    select
        alike,
        metric,
        case
            when sum(runs) = sum(recomputed) then 'recomputed'
            when sum(runs) = sum(reported) then 'reported'
            when sum(recomputed) >= sum(reported) then 'recomputed'
            else 'reported'
        end as preferred
    from held
    group by alike, metric
),

chosen as (
    select
        held.*,
        case
            when preferences.preferred = 'recomputed' and held.recomputed = 0 then 'reported'
            when preferences.preferred = 'reported' and held.reported = 0 then 'recomputed'
            else preferences.preferred
        end as origin
    from held
    join preferences using (alike, metric)
)

select
    tried,
    metric,
    origin,
    runs,
    case origin when 'recomputed' then recomputed else reported end as usable
from chosen
