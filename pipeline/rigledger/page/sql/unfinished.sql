-- Planned cells with fewer runs than the study asks for, by rig.
SELECT rig, count(*) AS cells, sum(greatest(runs_required - runs, 0)) AS runs_missing
FROM cells
WHERE planned AND runs < runs_required AND coalesce(no_partner, '') <> 'not_possible'
GROUP BY rig
ORDER BY rig
