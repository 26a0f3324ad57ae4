-- How many cells there are runs of.
SELECT count(*) AS cells
FROM (
    SELECT DISTINCT
        sessions.rig, sessions.stack, runs.workload, runs.title_build, runs.resolution, runs.level
    FROM runs
    JOIN sessions USING (session)
) AS cells
