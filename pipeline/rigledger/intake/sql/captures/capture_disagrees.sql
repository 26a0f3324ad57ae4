-- A reported value may differ from the recomputed one by half its own step and by the limit in per cent.
SELECT
  m._row,
  m.metric AS column_name,
  CAST(m.value AS VARCHAR) AS value,
  'reported ' || m.value || ', the capture gives ' || round(f.value, 2) || ' over ' || f.frames || ' frames' AS detail
FROM handed.measurements AS m
JOIN frame_metrics AS f ON f.run = CAST(m._row AS VARCHAR) AND f.metric = m.metric
LEFT JOIN handed.steps AS s ON s.metric = m.metric
WHERE abs(m.value - f.value) > coalesce(s.reported_step, 0) / 2 + $disagreement_pct / 100.0 * f.value
ORDER BY ALL
