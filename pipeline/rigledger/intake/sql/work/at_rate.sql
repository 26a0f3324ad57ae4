-- The cells whose runs all sit at one of the rates, closely together: equal values are no wonder there.
SELECT
  c.cell,
  $metric AS metric,
  c.rig,
  c.workload,
  c.resolution,
  c.level,
  c.first_row,
  $mean AS mean_ln,
  r.rate,
  r.workload IS NULL AS common
FROM handed.cells AS c
JOIN handed.rates AS r
  ON $lowest > r.rate * 0.997 AND $highest < r.rate * 1.0005 AND coalesce(r.workload = c.workload, r.workload IS NULL)
WHERE $runs >= 2 AND $highest < $lowest * 1.002
