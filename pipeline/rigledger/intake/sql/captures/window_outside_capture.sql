-- A window that starts behind the capture's end, or ends more than a frame's usual time behind it.
SELECT
  r._row,
  'capture_for_s' AS column_name,
  CAST(r.capture_for_s AS VARCHAR) AS value,
  'the window is ' || coalesce(r.capture_from_s, 0) || ' s to '
    || coalesce(CAST(coalesce(r.capture_from_s, 0) + r.capture_for_s AS VARCHAR) || ' s', 'the end')
    || ', the capture lasts ' || round(c.total_ns / 1e9, 3) || ' s' AS detail
FROM handed.runs AS r
JOIN handed.captures AS c USING (capture_file)
WHERE r.capture_from_s >= c.total_ns / 1e9
  OR coalesce(r.capture_from_s, 0) + r.capture_for_s > c.total_ns / 1e9 + $length_pct / 100.0 * r.capture_for_s
ORDER BY ALL
