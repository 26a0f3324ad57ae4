-- One row a cell and metric, over its measured runs.
SELECT
  cell,
  rig,
  stack,
  workload,
  title_build,
  resolution,
  level,
  $metric AS metric,
  $runs AS runs,
  $lowest AS lowest,
  $highest AS highest,
  $mean AS mean_ln,
  $variance AS variance_ln,
  first_row
FROM handed.cells
WHERE $runs > 0
