SELECT min(_row) AS _row, 'pass' AS column_name, CAST(max(pass) AS VARCHAR) AS value,
  rig || ', session ' || session || ', ' || workload || ', ' || resolution || ', ' || level || ': ' || count(DISTINCT pass) ||
  ' passes are here, the last has number ' || max(pass) AS detail
FROM handed.runs WHERE pass IS NOT NULL AND role <> 'warm_up'
GROUP BY rig, session, workload, title_build, resolution, level HAVING max(pass) > count(DISTINCT pass)
