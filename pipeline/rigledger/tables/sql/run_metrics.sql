-- One row per run in force and metric that was recomputed from the run's capture.
select
    run_values.run,
    run_values.metric,
    metrics.unit,
    run_values.recomputed,
    run_values.reported,
    case
        when run_values.reported > 0
            then 100 * (run_values.recomputed - run_values.reported) / run_values.reported
    end as difference_pct,
    run_values.frames,
    run_values.frames < metrics.fewest_frames as insufficient_frames
from work.run_values
semi join work.runs_in_force using (run)
join metrics using (metric)
where run_values.recomputed is not null
