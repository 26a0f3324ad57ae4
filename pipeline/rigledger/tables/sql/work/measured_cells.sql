-- One row per measured cell and metric. Runs of one boot are not independent evidence about another, so each session counts
-- once: the geometric mean is over the sessions' own geometric means.
select
    contributor, metric, cell, rig, stack, workload, title_build, resolution, level,
    cast(sum(runs) as bigint) as runs,
    count(*) as sessions,
    min(origin) as origin,
    exp(list_sum(list(ln_mean order by session)) / count(*)) as geometric_mean,
    case
        when sum(runs) > count(*)
            then 100 * sqrt(list_sum(list(squares order by session)) / (sum(runs) - count(*)))
    end as spread_pct,
    cast(sum(insufficient_frames_runs) as bigint) as insufficient_frames_runs,
    case when min(first_state) = max(last_state) then min(first_state) else 'mixed' end as level_state,
    bool_or(ineffective) as ineffective,
    max(boot) as last_boot,
    arg_max(last_position, boot) as last_position
from work.cell_sessions
where role = 'measured'
group by contributor, metric, cell, rig, stack, workload, title_build, resolution, level
