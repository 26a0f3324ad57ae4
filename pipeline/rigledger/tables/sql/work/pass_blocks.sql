-- Whether the passes over one workload in a session came one after the other: then a pass is a block in which levels are
-- compared. Where positions show that passes overlap (all runs of one level before the other's), only the session is.
with passes as (
    select
        session, workload, title_build, resolution, pass,
        min(position) as first_position,
        max(position) as last_position
    from work.runs_in_force
    where role = 'measured'
    group by session, workload, title_build, resolution, pass
),

in_order as (
    select
        *,
        lag(last_position) over (
            partition by session, workload, title_build, resolution order by pass
        ) as previous_position
    from passes
)

select
    session, workload, title_build, resolution,
    bool_and(coalesce(previous_position < first_position, true)) as one_after_the_other
from in_order
group by session, workload, title_build, resolution
