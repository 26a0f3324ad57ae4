-- Of each cell the latest runs, as many as $each: by their session's day, then by name.
SELECT unnest(max_by(runs.run, (sessions.started_on, runs.run), $each)) AS run
FROM runs
JOIN sessions USING (session)
GROUP BY
    sessions.rig, sessions.stack, runs.workload, runs.title_build, runs.resolution, runs.level
