SELECT min(r._row) AS _row, 'pass' AS column_name, CAST(max(r.pass) AS VARCHAR) AS value,
  any_value(r.rig) || ', session ' || any_value(r.session) || ', ' || any_value(r.workload) || ', ' || any_value(r.resolution) ||
  ', ' || any_value(r.level) || ': ' || count(DISTINCT r.pass) || ' passes are here, the last has number ' || max(r.pass) AS detail
FROM handed.runs AS r
JOIN (
  SELECT hash(rig, session, workload, title_build, resolution, level) AS block FROM handed.runs
  WHERE pass IS NOT NULL AND role <> 'warm_up' GROUP BY block HAVING max(pass) > count(*)
) AS gaps ON hash(r.rig, r.session, r.workload, r.title_build, r.resolution, r.level) = gaps.block
WHERE r.pass IS NOT NULL AND r.role <> 'warm_up'
GROUP BY gaps.block
