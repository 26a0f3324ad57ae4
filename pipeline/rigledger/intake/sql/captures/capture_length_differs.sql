-- Without a stated window the whole capture is the run, so it lasts as long as the run did.
SELECT
  r._row,
  'duration_s' AS column_name,
  CAST(r.duration_s AS VARCHAR) AS value,
  'the run lasted ' || r.duration_s || ' s, its capture ' || round(c.total_ns / 1e9, 2) || ' s' AS detail
FROM handed.runs AS r
JOIN handed.captures AS c USING (capture_file)
WHERE r.capture_for_s IS NULL AND r.capture_from_s IS NULL
  AND abs(c.total_ns / 1e9 - r.duration_s) > $length_pct / 100.0 * r.duration_s
ORDER BY ALL
