-- One row a cell of two runs or more and average frame rate, with the pixels of its resolution; without values in doubt. A series
-- is what differs in the resolution alone.
SELECT
  $metric AS metric,
  hash($metric, rig, stack_key, workload, title_build, level) AS series,
  c.rig,
  c.workload,
  c.level,
  r.resolution,
  r.pixels,
  $runs AS runs,
  $mean AS mean_ln,
  $variance AS variance_ln,
  first_row
FROM handed.cells AS c
JOIN handed.resolutions AS r USING (resolution)
ANTI JOIN handed.doubted AS d ON d.cell = c.cell AND d.metric = $metric
WHERE $runs >= 2
