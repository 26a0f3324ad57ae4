-- Two columns are swapped, or both are times: then 1000 divided by each puts them in order.
SELECT a._row, a.metric AS column_name, CAST(a.value AS VARCHAR) AS value,
  a.metric || ' is ' || a.value || ', ' || a.other || ' is ' || a.other_value ||
  if(bool_and(a.value < 50) OVER (), '; as milliseconds a frame they would be ' || round(1000 / a.value, 1) || ' and ' ||
  round(1000 / a.other_value, 1) || ' fps', '') AS detail
FROM handed.low_pairs AS a
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = a._row AND f.column_name IN (a.metric, a.other)
WHERE a.value > 0 AND a.value < a.other_value
