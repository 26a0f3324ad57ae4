SELECT m._row, min(m.metric) AS column_name, CAST(arg_min(m.value, m.metric) AS VARCHAR) AS value,
  'the run was not possible and reads ' || string_agg(m.metric || ' ' || m.value, ', ' ORDER BY m.metric) AS detail
FROM handed.measurements AS m JOIN handed.runs AS r USING (_row)
WHERE r.role = 'not_possible'
GROUP BY m._row
