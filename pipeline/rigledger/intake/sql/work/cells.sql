-- One row a cell that has measured runs, whether it has three runs or more that are equal in every metric, and, for each metric of
-- the set, the aggregates that cell_values turns into rows. A cell is known by its first row.
CREATE TABLE handed.cells AS
SELECT *, first_row AS cell, runs >= 3 AND $alike AS alike
FROM (
  SELECT
    r.rig,
    s.stack_key,
    r.workload,
    r.title_build,
    r.resolution,
    r.level,
    count(*) AS runs,
    min(r._row) AS first_row,
    $aggregates
  FROM handed.runs AS r
  LEFT JOIN handed.stacked AS s USING (rig, session)
  WHERE r.role = 'measured'
  GROUP BY ALL
)
