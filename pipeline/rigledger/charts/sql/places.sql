-- What was measured of a workload at a resolution on a rig: most doubtful runs first, then widest.
SELECT
    cells.rig, cells.workload, workloads.title AS title, cells.resolution, cells.metric,
    sum(cells.doubtful_runs) AS doubtful, max(cells.spread_pct) AS spread_pct
FROM cells
JOIN chart_workloads AS workloads USING (workload)
WHERE cells.runs > 1
GROUP BY cells.rig, cells.workload, workloads.title, cells.resolution, cells.metric
ORDER BY doubtful DESC, spread_pct DESC NULLS LAST, cells.rig, cells.workload, cells.resolution
