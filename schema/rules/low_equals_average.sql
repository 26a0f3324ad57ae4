SELECT l._row, l.metric AS column_name, CAST(l.value AS VARCHAR) AS value, 'average and ' || l.metric || ' are both ' || l.value AS detail
FROM handed.measurements AS a
JOIN study.metrics AS am ON am.metric = a.metric AND am.tail_rule = 'none' AND am.unit = 'fps' AND am.weighting = 'time'
JOIN handed.measurements AS l ON l._row = a._row AND l.value = a.value
JOIN study.metrics AS lm ON lm.metric = l.metric AND lm.unit = 'fps' AND lm.tail_pct < 50
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = a._row AND f.column_name IN (a.metric, l.metric)
