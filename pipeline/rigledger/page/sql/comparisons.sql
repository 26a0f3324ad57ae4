-- The comparisons as the page holds them; names are looked up on the page.
SELECT
    rig, stack, workload, title_build, resolution, contrast, metric,
    from_value, to_value, from_runs, to_runs, change_pct, low_95_pct, high_95_pct,
    direction, size, no_verdict, confounded_by, design, sessions, session_basis, one_session,
    moderated_spread_pct, current, stale, runs_needed, sessions_needed
FROM comparisons
ORDER BY metric, contrast, workload, resolution, rig, stack, title_build
