SELECT min(c.first_row) AS _row, 'run' AS column_name, '1' AS value,
  if(count(*) = 1, 'the one cell has one row', 'all ' || count(*) || ' cells have one row') || '; the study asks for ' || any_value(g.runs_required) || ' runs a cell' AS detail
FROM handed.cells AS c, study.settings AS g
WHERE g.runs_required > 1
HAVING max(c.runs) = 1
