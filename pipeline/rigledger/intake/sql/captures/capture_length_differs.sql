-- Without a stated window the whole capture is the run, so it lasts as long as the run did: its duration, else the passage of its
-- workload.
SELECT
  l._row,
  if(l.duration_s IS NULL, 'capture_file', 'duration_s') AS column_name,
  if(l.duration_s IS NULL, l.capture_file, CAST(l.duration_s AS VARCHAR)) AS value,
  if(l.duration_s IS NULL, 'the passage lasts ', 'the run lasted ') || l.expected_s
    || ' s, its capture ' || round(c.total_ns / 1e9, 2) || ' s' AS detail
FROM capture_lengths AS l
JOIN handed.captures AS c USING (capture_file)
WHERE abs(c.total_ns / 1e9 - l.expected_s) > $length_pct / 100.0 * l.expected_s
ORDER BY ALL
