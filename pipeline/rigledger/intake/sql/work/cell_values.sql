-- One row a cell and metric, over its measured runs; cells with a value that is in doubt are left out.
SELECT
  cell,
  rig,
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
FROM handed.cells AS c
ANTI JOIN handed.doubted AS d ON d.cell = c.cell AND d.metric = $metric
WHERE $runs > 0
