-- One row per run in force, of any role, with everything a reader wants to see beside its numbers; metric columns follow.
select
    runs.run,
    contributors.contributor,
    contributors.shown_name,
    sessions.set_id,
    rigs.rig,
    rigs.platform,
    rigs.card,
    platforms.processor,
    platforms.board,
    platforms.memory_kit,
    cards.model as card_model,
    cards.class as card_class,
    sessions.session,
    sessions.boot,
    sessions.round,
    sessions.started_on,
    stacks.* exclude (contributor),
    workloads.workload,
    workloads.title,
    workloads.preset,
    runs.title_build,
    runs.resolution,
    runs.level,
    runs.level_state,
    runs.level_check,
    runs.role,
    runs.reason,
    runs.pass,
    runs.position,
    runs.started_at,
    runs.duration_s,
    runs.counted_frames as frames,
    runs.origin,
    doubts.doubtful_in,
    runs.* exclude (
        run, session, rig, contributor, stack, boot, round, workload, title_build, resolution, level, level_state,
        level_check, role, reason, pass, position, started_at, duration_s, capture, capture_from_s, capture_for_s,
        origin, counted_frames, frames
    )
from work.runs_in_force as runs
join sessions on sessions.session = runs.session
join rigs on rigs.rig = sessions.rig
join contributors on contributors.contributor = rigs.contributor
join platforms on platforms.platform = rigs.platform
join cards on cards.card = rigs.card
join stacks on stacks.stack = sessions.stack
join workloads on workloads.workload = runs.workload
left join (
    select run, string_agg(metric, ' ' order by metric) as doubtful_in
    from work.doubtful_runs
    group by run
) as doubts on doubts.run = runs.run
