-- One row per run of a set in force that no applied correction leaves out, with what its session and rig say.
select
    runs.run,
    runs.session,
    sessions.rig,
    rigs.contributor,
    rigs.platform,
    rigs.card,
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
  and not exists (
      select 1
      from corrections
      where corrections.action = 'exclude'
        and corrections.status = 'applied'
        and corrections.metric is null
        and corrections.session = runs.session
        and coalesce(corrections.run, runs.run) = runs.run
  )
