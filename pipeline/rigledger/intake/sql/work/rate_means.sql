-- One row a cell of two runs or more and average frame rate, with the pixels of its resolution; without values in doubt.
SELECT
  $metric AS metric,
  series,
  TRY_CAST(split_part(resolution, 'x', 1) AS BIGINT) * TRY_CAST(split_part(resolution, 'x', 2) AS BIGINT) AS pixels,
  $runs AS runs,
  $mean AS mean_ln,
  $variance AS variance_ln,
  first_row
FROM handed.cells AS c
ANTI JOIN handed.doubted AS d ON d.cell = c.cell AND d.metric = $metric
WHERE $runs >= 2
