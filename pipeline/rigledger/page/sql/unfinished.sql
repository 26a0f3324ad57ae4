-- Planned cells with fewer runs than the study asks for, by rig; a cell counts once, not per metric.
WITH planned_cells AS (
    SELECT rig, workload, resolution, level,
           min(runs) AS runs, max(runs_required) AS runs_required
    FROM cells
    WHERE planned AND coalesce(no_partner, '') <> 'not_possible'
    GROUP BY rig, stack, workload, title_build, resolution, level
)
SELECT rig, count(*) AS cells, sum(runs_required - runs) AS runs_missing
FROM planned_cells
WHERE runs < runs_required
GROUP BY rig
ORDER BY rig
