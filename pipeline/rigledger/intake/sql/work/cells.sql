-- One row a cell that has measured runs, with the number of its partners: cells that differ in the level alone.
CREATE TABLE handed.cells AS
WITH counted AS (
  SELECT
    rig,
    stack,
    workload,
    title_build,
    resolution,
    level,
    count(*) AS runs,
    min(_row) AS first_row
  FROM handed.placed
  WHERE role = 'measured'
  GROUP BY ALL
)
SELECT
  *,
  count(*) OVER (PARTITION BY rig, stack, workload, title_build, resolution) - 1 AS partners
FROM counted
