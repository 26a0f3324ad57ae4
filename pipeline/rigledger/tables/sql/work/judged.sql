-- One row per comparison with its numbers, why it has no verdict, and whether it is the latest of its kind.
with newest as (
    select rig, arg_max(stack, boot) as stack
    from work.runs_in_force
    group by rig
)

select
    pairs.*,
    statistics.* exclude (contributor, metric, pair),
    confounding.confounded_by,
    from_cells.geometric_mean as from_value,
    to_cells.geometric_mean as to_value,
    from_cells.runs as from_runs,
    to_cells.runs as to_runs,
    newest.stack <> pairs.stack as stale,
    row_number() over (
        partition by pairs.rig, pairs.workload, pairs.resolution, pairs.contrast, pairs.metric
        order by pairs.last_boot desc, pairs.last_position desc, pairs.title_build desc
    ) = 1 as current,
    case
        when pairs.ineffective then 'ineffective'
        when confounding.confounded_by is not null then 'confounded'
        when metrics.direction = 'neither' then 'direction_neither'
        when not meeting.levels_meet then 'no_blocks'
        when pairs.insufficient_frames then 'insufficient_frames'
        when least(from_cells.runs, to_cells.runs) < 2 then 'one_run'
        when statistics.session_basis = 'assumed' then 'no_session_spread'
    end as no_verdict
from work.pairs
join metrics on metrics.metric = pairs.metric
join newest on newest.rig = pairs.rig
join work.measured_cells as from_cells
    on from_cells.metric = pairs.metric
    and from_cells.tried = pairs.from_tried
join work.measured_cells as to_cells
    on to_cells.metric = pairs.metric
    and to_cells.tried = pairs.to_tried
left join work.pair_statistics as statistics
    on statistics.contributor = pairs.contributor
    and statistics.metric = pairs.metric
    and statistics.pair = pairs.pair
left join work.confounding as confounding
    on confounding.contributor = pairs.contributor
    and confounding.metric = pairs.metric
    and confounding.pair = pairs.pair
left join (
    select distinct contributor, metric, pair, levels_meet
    from work.block_sessions
) as meeting
    on meeting.contributor = pairs.contributor
    and meeting.metric = pairs.metric
    and meeting.pair = pairs.pair
