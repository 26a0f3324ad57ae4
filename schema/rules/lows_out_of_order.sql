SELECT a._row, a.metric AS column_name, CAST(a.value AS VARCHAR) AS value,
  a.metric || ' is ' || a.value || ', ' || b.metric || ' is ' || b.value || ': the first can''t be the faster' AS detail
FROM handed.measurements AS a
JOIN study.metrics AS am ON am.metric = a.metric AND am.unit = 'fps' AND am.weighting = 'frame'
JOIN handed.measurements AS b ON b._row = a._row
JOIN study.metrics AS bm ON bm.metric = b.metric AND bm.unit = 'fps' AND bm.weighting = 'frame'
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = a._row AND f.column_name IN (a.metric, b.metric)
WHERE a.value > b.value * 1.001 AND (
  (am.tail_pct = bm.tail_pct AND am.tail_rule = 'mean_of_slowest' AND bm.tail_rule = 'percentile')
  OR (am.tail_pct < bm.tail_pct AND am.tail_rule = bm.tail_rule)
)
