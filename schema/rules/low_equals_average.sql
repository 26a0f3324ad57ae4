SELECT a._row, a.other AS column_name, CAST(a.other_value AS VARCHAR) AS value, 'average and ' || a.other || ' are both ' || a.other_value AS detail
FROM handed.low_pairs AS a
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = a._row AND f.column_name IN (a.metric, a.other)
WHERE a.other_value = a.value
