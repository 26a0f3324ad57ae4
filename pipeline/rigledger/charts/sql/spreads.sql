-- The spread of every cell that has one, sentinels included: they are cells too.
SELECT
    cells.workload, workloads.title AS title, cells.metric, cells.rig, cells.stack,
    cells.title_build, cells.resolution, cells.level, cells.runs, cells.spread_pct,
    cells.moderated_spread_pct
FROM cells
JOIN chart_workloads AS workloads USING (workload)
WHERE cells.spread_pct IS NOT NULL
ORDER BY cells.metric, workloads.title, cells.workload, cells.rig, cells.stack,
         cells.title_build, cells.resolution, cells.level
