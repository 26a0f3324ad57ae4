SELECT min(c.first_row) AS _row, 'level' AS column_name, NULL AS value,
  'none of the ' || count(*) || ' cells has a complete partner at another level on the same rig, stack and build' AS detail
FROM handed.cells AS c, study.settings AS g
HAVING count(*) > 0 AND NOT bool_or(c.runs >= g.runs_required AND c.partners > 0)
