-- One row a cell that has measured runs, with the number of its partners (cells that differ in the level alone) and, for
-- each metric of the set, the aggregates that cell_values turns into rows.
CREATE TABLE handed.cells AS
WITH counted AS (
  SELECT
    p.cell,
    count(*) AS runs,
    min(r._row) AS first_row,
    $aggregates
  FROM handed.placed AS p
  JOIN handed.runs AS r USING (_row)
  GROUP BY p.cell
)
SELECT
  r.rig,
  s.stack,
  r.workload,
  r.title_build,
  r.resolution,
  r.level,
  count(*) OVER (PARTITION BY r.rig, s.stack, r.workload, r.title_build, r.resolution) - 1 AS partners,
  c.*
FROM counted AS c
JOIN handed.runs AS r ON r._row = c.first_row
LEFT JOIN handed.stacked AS s USING (rig, session)
