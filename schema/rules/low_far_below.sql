SELECT a._row, a.other AS column_name, CAST(a.other_value AS VARCHAR) AS value,
  a.other || ' is ' || a.other_value || ', the average is ' || a.value || ': less than a tenth' AS detail
FROM handed.low_pairs AS a
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = a._row AND f.column_name IN (a.metric, a.other)
WHERE a.other_value < a.value / 10
