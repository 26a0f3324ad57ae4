-- One row per run of a set in force, of any role, with what its session and rig say. Corrections are already applied: a run
-- that one of them leaves out has the role `excluded`.
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
    runs.role,
    runs.pass,
    runs.position,
    runs.duration_s,
    runs.capture,
    runs.capture_from_s,
    runs.capture_for_s
from runs
join sessions using (session)
join sets using (set_id)
join rigs using (rig)
where sets.state = 'admitted'
