-- One row a cell that has measured runs, with the number of its partners (cells that differ in the level alone), a short key for
-- what only differs in resolution, whether it has three runs or more that are equal in every metric, and, for each metric of the
-- set, the aggregates that cell_values turns into rows.
CREATE TABLE handed.cells AS
WITH counted AS (
  SELECT
    cell,
    count(*) AS runs,
    min(_row) AS first_row,
    count(*) >= 3 AND $alike AS alike,
    $aggregates
  FROM handed.located
  WHERE role = 'measured'
  GROUP BY cell
)
SELECT
  r.rig,
  s.stack,
  r.workload,
  r.title_build,
  r.resolution,
  r.level,
  count(*) OVER (PARTITION BY hash(r.rig, s.stack_key, r.workload, r.title_build, r.resolution)) - 1 AS partners,
  hash(r.rig, s.stack_key, r.workload, r.title_build, r.level) AS series,
  c.*
FROM counted AS c
JOIN handed.runs AS r ON r._row = c.first_row
LEFT JOIN handed.stacked AS s USING (rig, session)
