-- A reported value may differ from the recomputed one by half its own step and by the limit in per cent. Where several metrics of
-- a run differ, it is the capture that belongs elsewhere: one finding at its name.
SELECT
  _row,
  if(count(*) = 1, min(metric), 'capture_file') AS column_name,
  if(count(*) = 1, CAST(min(reported) AS VARCHAR), min(capture_file)) AS value,
  string_agg(
    if(many = 1, '', metric || ': ') || 'reported ' || reported || ', the capture gives ' || round(recomputed, 2), '; ' ORDER BY metric
  ) || ' over ' || min(frames) || ' frames' AS detail
FROM (
  SELECT m._row, m.metric, m.value AS reported, f.value AS recomputed, f.frames, r.capture_file, count(*) OVER (PARTITION BY m._row) AS many
  FROM handed.measurements AS m
  JOIN handed.run_frames AS f ON f._row = m._row AND f.metric = m.metric
  JOIN handed.runs AS r ON r._row = m._row
  LEFT JOIN handed.steps AS s ON s.metric = m.metric
  ANTI JOIN handed.found AS x ON x._table = 'runs' AND x._row = m._row AND x.column_name = m.metric
  WHERE abs(m.value - f.value) > coalesce(s.reported_step, 0) / 2 + $disagreement_pct / 100.0 * f.value
)
GROUP BY _row
ORDER BY ALL
