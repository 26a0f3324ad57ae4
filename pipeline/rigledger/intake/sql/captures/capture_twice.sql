-- Two files with the same frame times to the nanosecond.
SELECT
  r._row,
  'capture_file' AS column_name,
  r.capture_file AS value,
  r.capture_file || ' has the same frame times as ' || first_file AS detail
FROM (
  SELECT capture_file, min(capture_file) OVER (PARTITION BY capture) AS first_file FROM handed.captures
) AS c
JOIN handed.runs AS r USING (capture_file)
WHERE capture_file <> first_file
ORDER BY ALL
