-- How each cell, and the setting's effect in it, moved when the stack (or the title's build) changed. q is the false
-- discovery rate of Benjamini and Hochberg (1995, J R Stat Soc B 57(1):289-300) over one metric: the cells' levels are one family,
-- the effects of each contrast another.
with ranked as (
    select
        contributor, metric, kind, shift, contrast,
        p * count(*) over family / row_number() over (
            family order by p, rig, workload, resolution, level, from_stack, to_stack, from_build, to_build
        ) as stepped,
        row_number() over (
            family order by p, rig, workload, resolution, level, from_stack, to_stack, from_build, to_build
        ) as place
    from work.shift_judged
    where no_verdict is null
    window family as (partition by metric, contrast)
),

discoveries as (
    select
        contributor, metric, kind, shift,
        min(stepped) over (
            partition by metric, contrast order by place desc rows unbounded preceding
        ) as q
    from ranked
)

select
    judged.rig,
    judged.workload,
    judged.resolution,
    judged.level,
    judged.contrast,
    judged.metric,
    judged.from_stack,
    judged.to_stack,
    judged.from_build,
    judged.to_build,
    judged.contributor,
    metrics.unit,
    array_to_string(list_concat(
        coalesce(differences.fields, []),
        case when judged.from_build <> judged.to_build then ['title_build'] else [] end
    ), ', ') as changed,
    judged.from_value,
    judged.to_value,
    judged.from_change_pct,
    judged.to_change_pct,
    judged.from_runs,
    judged.to_runs,
    judged.from_sessions,
    judged.to_sessions,
    judged.shift_pct,
    judged.low_95_pct,
    judged.high_95_pct,
    case when judged.no_verdict is null then judged.direction end as direction,
    case when judged.no_verdict is null then judged.size end as size,
    case when judged.no_verdict is null then judged.p end as p,
    discoveries.q,
    judged.metric || ' x ' || case judged.kind when 'cell' then 'level' else judged.contrast end as family,
    coalesce(discoveries.q <= 0.05, false) as moved,
    judged.session_basis,
    judged.confounded_by,
    judged.no_verdict
from work.shift_judged as judged
join metrics on metrics.metric = judged.metric
left join work.stack_differences as differences
    on differences.from_stack = judged.from_stack
    and differences.to_stack = judged.to_stack
left join discoveries
    on discoveries.contributor = judged.contributor
    and discoveries.metric = judged.metric
    and discoveries.kind = judged.kind
    and discoveries.shift = judged.shift
