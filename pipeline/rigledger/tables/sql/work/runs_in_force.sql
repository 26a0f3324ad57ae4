-- One row per run of a set in force, of any role, with what its session and rig say. Corrections are already applied: a run
-- that one of them leaves out has the role `excluded`. Its values follow, a column per metric. `counted_frames` are those of its window of the capture, counted when
-- its metrics were recomputed, or of a whole capture that is kept elsewhere; `frames` also takes the reported average x the
-- reported duration where there is no capture. Blank where nothing tells.
with held as (
    select
        runs.run,
        runs.session,
        sessions.rig,
        rigs.contributor,
        sessions.stack,
        sessions.boot,
        sessions.round,
        runs.workload,
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
        runs.capture,
        runs.capture_from_s,
        runs.capture_for_s,
        totals.* exclude (run, frames),
        coalesce(
            totals.frames,
            case
                when coalesce(runs.capture_from_s, 0) = 0 and runs.capture_for_s is null
                    then captures.frames
            end
        ) as counted_frames
    from runs
    join sessions using (session)
    join sets using (set_id)
    join rigs using (rig)
    left join work.run_totals as totals on totals.run = runs.run
    left join captures on captures.capture = runs.capture
    where sets.state = 'admitted'
)

select
    * exclude (reported_average),
    coalesce(counted_frames, cast(floor(reported_average * duration_s) as bigint)) as frames
from held
