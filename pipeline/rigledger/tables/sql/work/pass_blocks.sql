-- Whether the passes over one workload in a session came one after the other: then a pass is a block in which levels are
-- compared. Where positions show that passes overlap (all runs of one level before the other's), only the session is.
with passes as (
    select
        session, alike, pass,
        min(position) as first_position,
        max(position) as last_position
    from work.trials
    group by session, alike, pass
),

in_order as (
    select
        *,
        lag(last_position) over (partition by session, alike order by pass) as previous_position
    from passes
)

select
    session, alike,
    bool_and(coalesce(previous_position < first_position, true)) as one_after_the_other
from in_order
group by session, alike
