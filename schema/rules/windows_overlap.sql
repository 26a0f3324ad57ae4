SELECT b._row, 'capture_from_s' AS column_name, CAST(b.capture_from_s AS VARCHAR) AS value,
  'row ' || a._row || ' uses the same part of ' || b.capture_file AS detail
FROM handed.runs AS a JOIN handed.runs AS b ON a.capture_file = b.capture_file AND a.workload = b.workload AND a._row < b._row
WHERE coalesce(a.capture_from_s, 0) < coalesce(b.capture_from_s, 0) + coalesce(b.capture_for_s, 1e9)
  AND coalesce(b.capture_from_s, 0) < coalesce(a.capture_from_s, 0) + coalesce(a.capture_for_s, 1e9)
