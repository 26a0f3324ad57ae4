-- Boots of a rig that are dated before the boot that came before them.
with ordered as (
    select
        sessions.rig, sessions.session, sessions.stack, sessions.boot, sessions.started_on,
        lag(sessions.session) over boots as earlier_session,
        lag(sessions.stack) over boots as earlier_stack,
        lag(sessions.started_on) over boots as earlier_day
    from sessions
    join sets on sets.set_id = sessions.set_id
    where sets.state = 'admitted'
    window boots as (partition by sessions.rig order by sessions.boot)
)

select rig, session, started_on, earlier_session, earlier_day
from ordered
where started_on < earlier_day and stack <> earlier_stack
order by rig, boot
