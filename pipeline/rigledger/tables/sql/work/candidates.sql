-- One row per measured or sentinel run and metric with the value that counts: the preferred origin's, and the other's only
-- for a level that has no value of the preferred one at all. Runs without a usable value (above zero, for its logarithm)
-- keep a row with a blank value, so that they are counted as left out.
with sided as (
    select
        runs.contributor,
        run_values.metric,
        runs.role,
        runs.rig,
        runs.stack,
        runs.workload,
        runs.title_build,
        runs.resolution,
        -- The setting can't act on a sentinel: its runs at all levels are one cell.
        case runs.role when 'sentinel' then 'any' else runs.level end as level,
        runs.level_state,
        runs.run,
        runs.session,
        runs.boot,
        runs.round,
        runs.pass,
        runs.position,
        case when run_values.recomputed > 0 then run_values.recomputed end as recomputed,
        case when run_values.reported > 0 then run_values.reported end as reported,
        run_values.reported_step,
        origins.preferred
    from work.run_values
    join work.runs_in_force as runs using (run)
    join work.origins
        on origins.rig = runs.rig
        and origins.stack = runs.stack
        and origins.workload = runs.workload
        and origins.title_build = runs.title_build
        and origins.resolution = runs.resolution
        and origins.role = runs.role
        and origins.metric = run_values.metric
),

levels_without as (
    select
        *,
        case
            when preferred = 'recomputed' and count(recomputed) over cell = 0 then 'reported'
            when preferred = 'reported' and count(reported) over cell = 0 then 'recomputed'
            else preferred
        end as origin
    from sided
    window cell as (partition by rig, stack, workload, title_build, resolution, role, level, metric)
)

select
    * exclude (recomputed, reported, preferred, reported_step),
    case origin when 'recomputed' then recomputed else reported end as value,
    case origin when 'reported' then reported_step end as reported_step
from levels_without
