SELECT c.first_row AS _row, 'run' AS column_name, CAST(c.runs AS VARCHAR) AS value,
  c.rig || ', ' || c.workload || ', ' || c.resolution || ', ' || c.level || ' has ' || c.runs || ' of ' || g.runs_required || ' runs' AS detail
FROM handed.cells AS c, study.settings AS g
WHERE c.runs < g.runs_required AND (SELECT max(runs) FROM handed.cells) > 1
