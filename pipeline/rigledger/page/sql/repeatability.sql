-- How well a rig repeats itself on a workload.
SELECT rig, workload, metric, cells, runs, sessions, run_spread_pct, session_spread_pct
FROM repeatability
ORDER BY metric, workload, rig
