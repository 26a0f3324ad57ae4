-- One row per measured cell and metric. Runs of one boot are not independent evidence about another, so each session counts
-- once: the geometric mean is over the sessions' own geometric means.
with cells as (
    select
        metric, tried,
        cast(sum(runs) as bigint) as runs,
        count(*) as sessions,
        any_value(origin) as origin,
        exp(list_sum(list_sort(list(ln_mean))) / count(*)) as geometric_mean,
        case
            when sum(runs) > count(*)
                then 100 * sqrt(list_sum(list_sort(list(squares))) / (sum(runs) - count(*)))
        end as spread_pct,
        cast(sum(insufficient_frames_runs) as bigint) as insufficient_frames_runs,
        case when min(first_state) = max(last_state) then min(first_state) else 'mixed' end as level_state,
        bool_or(ineffective) as ineffective,
        max(boot) as last_boot,
        arg_max(last_position, boot) as last_position
    from work.cell_sessions
    group by metric, tried
)

select numbers.* exclude (role), cells.* exclude (metric, tried)
from cells
join work.cell_numbers as numbers using (metric, tried)
where numbers.role = 'measured'
