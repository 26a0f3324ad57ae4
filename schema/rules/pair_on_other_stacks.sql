SELECT c.first_row AS _row, 'level' AS column_name, c.level AS value,
  c.rig || ', ' || c.workload || ', ' || c.resolution || ': ' || c.level || ' has no partner on its stack; other levels were run on another' AS detail
FROM handed.partnered AS c
ANTI JOIN handed.found AS f ON f.rule = 'too_few_runs' AND f._row = c.first_row
WHERE c.partners = 0 AND EXISTS (
  FROM handed.cells AS o WHERE o.rig = c.rig AND o.workload = c.workload AND o.resolution = c.resolution
    AND o.level <> c.level AND o.stack_key <> c.stack_key
)
