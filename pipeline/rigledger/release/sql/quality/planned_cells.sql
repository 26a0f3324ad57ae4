-- The cells that the plan asks for, with the runs they have and the runs they need.
SELECT rig, workload, resolution, level, metric, runs, runs_required
FROM cells
WHERE planned AND coalesce(no_partner, '') <> 'not_possible'
ORDER BY rig, stack, workload, title_build, resolution, level, metric
