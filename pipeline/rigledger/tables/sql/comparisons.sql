-- One row per comparison: the change with its interval, and the verdicts where there are any.
-- q is the false discovery rate of Benjamini and Hochberg (1995, J R Stat Soc B 57(1):289-300) over one metric and contrast:
-- p x members / rank, never above that of a larger p.
with ranked as (
    select
        rig, stack, workload, title_build, resolution, contrast, metric,
        p_direction * count(*) over family / row_number() over (
            family order by p_direction, rig, stack, workload, title_build, resolution
        ) as stepped,
        row_number() over (
            family order by p_direction, rig, stack, workload, title_build, resolution
        ) as place
    from work.judged
    where no_verdict is null
    window family as (partition by metric, contrast)
),

discoveries as (
    select
        * exclude (stepped, place),
        min(stepped) over (
            partition by metric, contrast order by place desc rows unbounded preceding
        ) as q_direction
    from ranked
)

select
    judged.rig,
    judged.stack,
    judged.workload,
    judged.title_build,
    judged.resolution,
    judged.contrast,
    judged.metric,
    rigs.contributor,
    rigs.platform,
    rigs.card,
    metrics.unit,
    judged.from_level,
    judged.to_level,
    judged.from_value,
    judged.to_value,
    judged.from_runs,
    judged.to_runs,
    case when judged.from_origin = judged.to_origin then judged.from_origin end as origin,
    judged.change_pct,
    judged.low_95_pct,
    judged.high_95_pct,
    judged.low_90_pct,
    judged.high_90_pct,
    judged.low_decision_pct,
    judged.high_decision_pct,
    case when judged.no_verdict is null then judged.direction end as direction,
    case when judged.no_verdict is null then judged.size end as size,
    case when judged.no_verdict is null then judged.p_direction end as p_direction,
    discoveries.q_direction,
    case when judged.no_verdict is null then judged.p_size end as p_size,
    judged.metric || ' x ' || judged.contrast as family,
    judged.design,
    coalesce(judged.sessions, 0) as sessions,
    coalesce(judged.blocks, 0) as blocks,
    judged.session_basis,
    coalesce(judged.one_session, false) as one_session,
    coalesce(judged.rounds_used, 0) as rounds_used,
    judged.spread_pct,
    judged.moderated_spread_pct,
    judged.confounded_by,
    judged.no_verdict,
    judged.current,
    judged.stale,
    case when judged.no_verdict is null then judged.runs_needed end as runs_needed,
    case when judged.no_verdict is null then judged.sessions_needed end as sessions_needed
from work.judged
join rigs on rigs.rig = judged.rig
join metrics on metrics.metric = judged.metric
left join discoveries
    on discoveries.rig = judged.rig
    and discoveries.stack = judged.stack
    and discoveries.workload = judged.workload
    and discoveries.title_build = judged.title_build
    and discoveries.resolution = judged.resolution
    and discoveries.contrast = judged.contrast
    and discoveries.metric = judged.metric
