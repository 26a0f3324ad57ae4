-- Run-to-run spread of the cells that have one.
SELECT rig, workload, resolution, level, metric, spread_pct
FROM cells
WHERE spread_pct IS NOT NULL
ORDER BY rig, stack, workload, title_build, resolution, level, metric
