SELECT NULL AS _row, NULL AS column_name, p.rig AS value,
  p.rig || ' has no runs for ' || count(*) || ' of ' || any_value(t.planned) || ' planned cells, such as ' ||
  min(p.workload || ' ' || p.resolution || ' ' || p.level) AS detail
FROM study.planned AS p
JOIN (SELECT rig, count(*) AS planned FROM study.planned GROUP BY rig) AS t ON t.rig = p.rig
ANTI JOIN (
  SELECT rig, workload, resolution, level FROM handed.cells
  UNION ALL
  SELECT rig, workload, resolution, level FROM handed.runs WHERE role = 'not_possible'
) AS r ON p.rig = r.rig AND p.workload = r.workload AND p.resolution = r.resolution AND p.level = r.level
GROUP BY p.rig
