-- How many cells there are runs of, and how many runs.
SELECT
    count(DISTINCT (
        sessions.rig, sessions.stack, runs.workload, runs.title_build, runs.resolution, runs.level
    )) AS cells,
    count(*) AS runs
FROM runs
JOIN sessions USING (session)
