-- One row a cell and metric, over its measured runs. $metric and $value are filled in for each metric of the set.
SELECT
  rig,
  stack,
  workload,
  title_build,
  resolution,
  level,
  $metric AS metric,
  count(*) AS runs,
  min($value) AS lowest,
  max($value) AS highest,
  avg(ln($value)) AS mean_ln,
  var_samp(ln($value)) AS variance_ln,
  min(_row) AS first_row
FROM handed.placed
WHERE role = 'measured' AND $value > 0
GROUP BY ALL
