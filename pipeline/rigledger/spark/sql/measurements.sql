-- The measurements, with what the frames give in place of what was recomputed before. A row stands where one stood, so that one
-- that a correction took out stays out.
with here as (
    select runs.run
    from runs
    join captures using (capture)
    where captures.state = 'here'
)

select
    held.run,
    held.metric,
    held.origin,
    case
        when here.run is not null and held.origin = 'recomputed' then found.value
        else held.value
    end as value,
    held.reported_step,
    case
        when here.run is not null and held.origin = 'recomputed' then found.frames
        else held.frames
    end as frames
from measurements as held
left join here on here.run = held.run
left join frame_metrics as found
    on found.run = held.run
    and found.metric = held.metric
