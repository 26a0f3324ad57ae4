-- Cells that have partners and too few runs are named by that already.
SELECT min(c.first_row) AS _row, 'level' AS column_name, NULL AS value,
  if(count(*) = 1, 'the one cell has no', 'none of the ' || count(*) || ' cells has a')
  || ' partner at another level on the same rig, stack and build' AS detail
FROM handed.partnered AS c
WHERE EXISTS (FROM study.settings)
HAVING count(*) > 0 AND NOT bool_or(c.partners > 0)
UNION ALL
SELECT min(r._row), 'role', NULL, if(count(*) = 1, 'the one run has not', 'not one of the ' || count(*) || ' runs has') || ' the role measured'
FROM handed.runs AS r
HAVING count(*) > 0 AND NOT bool_or(r.role = 'measured')
