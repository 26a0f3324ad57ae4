-- A cell that is short of runs is named by that already.
SELECT min(r._row) AS _row, 'pass' AS column_name, CAST(max(r.pass) AS VARCHAR) AS value,
  any_value(r.rig) || ', session ' || any_value(r.session) || ', ' || any_value(r.workload) || ', ' || any_value(r.resolution) ||
  ', ' || any_value(r.level) || ': ' || count(DISTINCT r.pass) || if(count(DISTINCT r.pass) = 1, ' pass is', ' passes are')
  || ' here, the last has number ' || max(r.pass) AS detail
FROM handed.located AS p
JOIN handed.runs AS r ON r._row = p._row
JOIN (
  SELECT block FROM handed.located
  WHERE pass IS NOT NULL AND role <> 'warm_up' GROUP BY block HAVING max(pass) > count(*)
) AS gaps ON p.block = gaps.block
WHERE r.pass IS NOT NULL AND r.role <> 'warm_up' AND NOT EXISTS (
  SELECT 1 FROM handed.found AS f
  JOIN handed.runs AS short ON short._row = f._row
  WHERE f.rule IN ('too_few_runs', 'one_row_a_cell') AND short.rig = r.rig AND short.workload = r.workload
    AND short.resolution = r.resolution AND short.level = r.level
)
GROUP BY gaps.block
