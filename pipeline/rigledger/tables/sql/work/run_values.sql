-- One row per run in force and metric: what was recomputed from the capture, and what was reported.
select
    run,
    metric,
    max(value) filter (origin = 'recomputed') as recomputed,
    max(value) filter (origin = 'reported') as reported,
    max(reported_step) filter (origin = 'reported') as reported_step,
    max(frames) as frames
from measurements
semi join work.runs_in_force using (run)
where isfinite(value)
group by run, metric
