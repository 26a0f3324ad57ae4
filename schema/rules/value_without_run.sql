SELECT m._row, m.metric AS column_name, CAST(m.value AS VARCHAR) AS value, 'the run was not possible and reads ' || m.value AS detail
FROM handed.measurements AS m JOIN handed.runs AS r USING (_row)
WHERE r.role = 'not_possible'
