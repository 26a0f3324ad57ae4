-- One row per run in force and metric: what was recomputed from the capture, and what was reported.
select
    measurements.run,
    measurements.metric,
    max(measurements.value) filter (measurements.origin = 'recomputed') as recomputed,
    max(measurements.value) filter (measurements.origin = 'reported') as reported,
    max(measurements.reported_step) filter (measurements.origin = 'reported') as reported_step
from measurements
join work.runs_in_force as runs using (run)
where isfinite(measurements.value)
  and not exists (
      select 1
      from corrections
      where corrections.action = 'exclude'
        and corrections.status = 'applied'
        and corrections.metric = measurements.metric
        and corrections.session = runs.session
        and coalesce(corrections.run, runs.run) = runs.run
  )
group by measurements.run, measurements.metric
