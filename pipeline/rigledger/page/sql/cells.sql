-- The cells: absolute values, and planned cells without a run.
SELECT
    rig, stack, workload, title_build, resolution, level, metric, runs, runs_required, sessions,
    origin, geometric_mean, low_95, high_95, moderated_spread_pct, doubtful_runs, level_state,
    no_partner
FROM cells
ORDER BY metric, workload, resolution, rig, stack, title_build, level
