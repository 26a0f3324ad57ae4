-- One row per cell, metric and session: number, mean and squared deviations of ln value. Values are put in order before they
-- are added, so that sums come out the same to the last bit with any number of threads.
with logs as (
    select
        metric, tried, session,
        count(*) as runs,
        count(*) filter (insufficient_frames) as insufficient_frames_runs,
        min(level_state) as first_state,
        max(level_state) as last_state,
        bool_or(ineffective) as ineffective,
        max(position) as last_position,
        list_sort(list(ln(value))) as ln_values
    from work.counted
    group by metric, tried, session
),

means as (
    select *, list_sum(ln_values) / runs as ln_mean
    from logs
)

select
    means.* exclude (ln_values),
    list_sum(list_transform(ln_values, lambda x: (x - ln_mean) * (x - ln_mean))) as squares,
    sessions.round,
    sessions.boot,
    origins.origin
from means
join sessions using (session)
join work.origins using (metric, tried)
