-- The measured runs with their cell.
CREATE VIEW handed.placed AS
SELECT r._row, c.cell
FROM handed.runs AS r
LEFT JOIN handed.stacked AS s USING (rig, session)
JOIN handed.cells AS c
  ON c.rig IS NOT DISTINCT FROM r.rig AND c.stack_key IS NOT DISTINCT FROM s.stack_key
  AND c.workload IS NOT DISTINCT FROM r.workload AND c.title_build IS NOT DISTINCT FROM r.title_build
  AND c.resolution IS NOT DISTINCT FROM r.resolution AND c.level IS NOT DISTINCT FROM r.level
WHERE r.role = 'measured'
