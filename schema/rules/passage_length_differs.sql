SELECT r._row, if(r.capture_for_s IS NULL, 'duration_s', 'capture_for_s') AS column_name,
  CAST(coalesce(r.capture_for_s, r.duration_s) AS VARCHAR) AS value,
  'the passage of ' || r.workload || ' lasts ' || w.passage_length_s || ' s, this run ' || coalesce(r.capture_for_s, r.duration_s) || ' s' AS detail
FROM handed.runs AS r JOIN study.workloads AS w ON w.workload = r.workload
WHERE r.role IN ('measured', 'sentinel')
  AND abs(coalesce(r.capture_for_s, r.duration_s) - w.passage_length_s) > 0.1 * w.passage_length_s
