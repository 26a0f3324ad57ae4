SELECT c.first_row AS _row, 'title_build' AS column_name, c.title_build AS value,
  c.rig || ', ' || c.workload || ', ' || c.resolution || ': ' || c.level || ' was run on build ' || c.title_build ||
  ', other levels on other builds' AS detail
FROM handed.partnered AS c
ANTI JOIN handed.found AS f ON f.rule = 'too_few_runs' AND f._row = c.first_row
WHERE c.partners = 0 AND EXISTS (
  FROM handed.cells AS o WHERE o.rig = c.rig AND o.workload = c.workload AND o.resolution = c.resolution
    AND o.level <> c.level AND o.stack_key = c.stack_key AND o.title_build <> c.title_build
)
