SELECT a._row, a.metric AS column_name, CAST(a.value AS VARCHAR) AS value,
  a.metric || ' is ' || a.value || ', ' || l.metric || ' is ' || l.value AS detail
FROM handed.measurements AS a
JOIN study.metrics AS am ON am.metric = a.metric AND am.tail_rule = 'none' AND am.unit = 'fps' AND am.weighting = 'time'
JOIN handed.measurements AS l ON l._row = a._row
JOIN study.metrics AS lm ON lm.metric = l.metric AND lm.unit = 'fps' AND lm.tail_pct < 50
WHERE a.value < l.value
