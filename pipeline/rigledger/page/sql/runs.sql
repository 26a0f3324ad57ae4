-- The runs, warm-up and the like too: a cell's runs are looked up here.
SELECT
    runs.run, runs.session, sessions.rig, sessions.stack, runs.workload, runs.title_build,
    runs.resolution, runs.level, runs.role, runs.reason, runs."pass", sessions.started_on,
    runs.capture IS NOT NULL AS captured
FROM runs
SEMI JOIN shown_runs USING (run)
JOIN sessions USING (session)
ORDER BY runs.run
