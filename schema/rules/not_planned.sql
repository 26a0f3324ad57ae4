SELECT min(r.first_row) AS _row, 'resolution' AS column_name, r.resolution AS value,
  'the plan has no cell ' || r.workload || ' ' || r.resolution || ' ' || r.level || ' for rig ' || r.rig AS detail
FROM handed.cells AS r
ANTI JOIN study.planned AS p ON p.rig = r.rig AND p.workload = r.workload AND p.resolution = r.resolution AND p.level = r.level
WHERE r.rig IN (SELECT rig FROM study.planned)
  AND r.workload IN (SELECT workload FROM study.workloads) AND r.level IN (SELECT level FROM study.levels)
GROUP BY r.rig, r.workload, r.resolution, r.level
