-- One row per run and metric: what was recomputed from the capture, and what was reported. A run has one of each at most.
with recomputed as (
    select run, metric, value, frames
    from measurements
    where origin = 'recomputed' and isfinite(value)
),

reported as (
    select run, metric, value, frames, reported_step
    from measurements
    where origin = 'reported' and isfinite(value)
)

select
    run,
    metric,
    recomputed.value as recomputed,
    reported.value as reported,
    reported.reported_step,
    greatest(recomputed.frames, reported.frames) as frames
from recomputed
full join reported using (run, metric)
