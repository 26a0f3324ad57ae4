-- Two columns are swapped, or both are times: then 1000 divided by each puts them in order.
SELECT a._row, a.metric AS column_name, CAST(a.value AS VARCHAR) AS value,
  a.metric || ' is ' || a.value || ', ' || l.metric || ' is ' || l.value ||
  if(bool_and(a.value < 50) OVER (), '; as milliseconds a frame they would be ' || round(1000 / a.value, 1) || ' and ' ||
  round(1000 / l.value, 1) || ' fps', '') AS detail
FROM handed.measurements AS a
JOIN study.metrics AS am ON am.metric = a.metric AND am.tail_rule = 'none' AND am.unit = 'fps' AND am.weighting = 'time'
JOIN handed.measurements AS l ON l._row = a._row AND a.value < l.value
JOIN study.metrics AS lm ON lm.metric = l.metric AND lm.unit = 'fps' AND lm.tail_pct < 50
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = a._row AND f.column_name IN (a.metric, l.metric)
WHERE a.value > 0
