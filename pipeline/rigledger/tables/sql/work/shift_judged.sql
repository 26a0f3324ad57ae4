-- One row per shift with its numbers, what both sides rest on, and why it has no verdict.
with sides as (
    select
        'cell' as kind, contributor, metric, cell as number, geometric_mean as value,
        cast(null as double) as change_pct, runs, sessions,
        ineffective, insufficient_frames_runs > 0 as insufficient_frames, cast(null as varchar) as no_verdict,
        cast(null as varchar) as confounded_by
    from work.measured_cells
    union all
    select
        'effect' as kind, contributor, metric, pair as number, null as value,
        change_pct, from_runs + to_runs as runs, sessions,
        ineffective, insufficient_frames, no_verdict, confounded_by
    from work.judged
    where from_origin = to_origin
)

select
    pairs.*,
    statistics.* exclude (contributor, metric, kind, shift),
    earlier.value as from_value,
    later.value as to_value,
    earlier.change_pct as from_change_pct,
    later.change_pct as to_change_pct,
    earlier.runs as from_runs,
    later.runs as to_runs,
    earlier.sessions as from_sessions,
    later.sessions as to_sessions,
    coalesce(confounding.confounded_by, earlier.confounded_by, later.confounded_by) as confounded_by,
    case
        when earlier.ineffective or later.ineffective then 'ineffective'
        when confounding.confounded_by is not null then 'confounded'
        when earlier.no_verdict is not null then earlier.no_verdict
        when later.no_verdict is not null then later.no_verdict
        when metrics.direction = 'neither' then 'direction_neither'
        when earlier.insufficient_frames or later.insufficient_frames then 'insufficient_frames'
        when least(earlier.runs, later.runs) < 2 then 'one_run'
        when statistics.session_basis = 'assumed' then 'no_session_spread'
    end as no_verdict
from work.shift_pairs as pairs
join metrics on metrics.metric = pairs.metric
join work.shift_statistics as statistics
    on statistics.contributor = pairs.contributor
    and statistics.metric = pairs.metric
    and statistics.kind = pairs.kind
    and statistics.shift = pairs.shift
join sides as earlier
    on earlier.contributor = pairs.contributor
    and earlier.metric = pairs.metric
    and earlier.kind = pairs.kind
    and earlier.number = pairs.before
join sides as later
    on later.contributor = pairs.contributor
    and later.metric = pairs.metric
    and later.kind = pairs.kind
    and later.number = pairs.after
left join work.shift_confounding as confounding
    on confounding.contributor = pairs.contributor
    and confounding.metric = pairs.metric
    and confounding.kind = pairs.kind
    and confounding.shift = pairs.shift
