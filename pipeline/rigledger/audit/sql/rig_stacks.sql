-- The stacks of each rig in the order of their first boot: since when, until when, and in how many sessions.
select
    sessions.rig,
    sessions.stack,
    min(sessions.boot) as first_boot,
    max(sessions.boot) as last_boot,
    min(sessions.started_on) as since,
    max(sessions.started_on) as until,
    count(*) as sessions,
    list_sort(list(distinct sessions.set_id)) as sets
from sessions
join sets on sets.set_id = sessions.set_id
where sets.state = 'admitted'
group by sessions.rig, sessions.stack
order by sessions.rig, first_boot
