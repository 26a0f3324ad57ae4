-- The builds of each title on each rig: since when, until when.
select
    sessions.rig,
    runs.workload,
    runs.title_build,
    min(sessions.started_on) as since,
    max(sessions.started_on) as until,
    max((sessions.boot, runs.position)) as last_run
from runs
join sessions on sessions.session = runs.session
join sets on sets.set_id = sessions.set_id
where sets.state = 'admitted' and runs.role = 'measured'
group by sessions.rig, runs.workload, runs.title_build
order by sessions.rig, runs.workload, last_run
