SELECT a._row, a.metric AS column_name, CAST(a.value AS VARCHAR) AS value,
  a.metric || ' is ' || a.value || ', ' || a.other || ' is ' || a.other_value || ': the first can''t be the faster' AS detail
FROM handed.frame_pairs AS a
JOIN study.metrics AS am ON am.metric = a.metric
JOIN study.metrics AS bm ON bm.metric = a.other
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = a._row AND f.column_name IN (a.metric, a.other)
WHERE a.value > a.other_value * 1.001 AND (
  (am.tail_pct = bm.tail_pct AND am.tail_rule = 'mean_of_slowest' AND bm.tail_rule = 'percentile')
  OR (am.tail_pct < bm.tail_pct AND am.tail_rule = bm.tail_rule)
)
