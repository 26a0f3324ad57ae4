SELECT r._row, q.metric AS column_name, NULL AS value, r.workload || ' requires ' || q.metric AS detail
FROM handed.runs AS r
JOIN study.required_metrics AS q ON r.workload = q.workload
ANTI JOIN handed.measurements AS m ON m._row = r._row AND m.metric = q.metric
WHERE r.role = 'measured' AND r.capture_file IS NULL
