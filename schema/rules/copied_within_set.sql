-- Two cells agree when every pass has the same values. Agreement by chance is expected in `pairs * chance` pairs: `chance` is the
-- product, over runs and metrics, of step / (2 * sqrt(pi) * spread), the probability that two normal values with the set's own
-- run-to-run spread (the cell's own where that is smaller) round to the same figure. Only pairs of one rig, or of one workload and
-- resolution, are looked at. Cells at a cap are left out: there equal values are no wonder.
WITH blocks AS MATERIALIZED (
  SELECT rig, stack_key, workload, title_build, resolution, level, readings, filled AS runs, first_row
  FROM handed.block_sums SEMI JOIN handed.repeated USING (readings)
  WHERE measured AND filled >= 3
),
near AS MATERIALIZED (
  SELECT * FROM blocks AS b WHERE first_row IN (
    SELECT unnest([o.first_row, a.first_row]) FROM blocks AS o JOIN blocks AS a ON a.readings = o.readings AND a.first_row <> o.first_row
      AND (a.rig = o.rig OR (a.workload = o.workload AND a.resolution = o.resolution))
  )
),
twins AS MATERIALIZED (
  SELECT b.rig, b.workload, b.resolution, b.level, b.readings, b.runs, b.first_row, c.cell
  FROM near AS b
  JOIN handed.cells AS c USING (rig, stack_key, workload, title_build, resolution, level)
  ANTI JOIN handed.at_rate AS capped ON capped.cell = c.cell
),
usual AS (
  SELECT v.metric, coalesce(any_value(s.reported_step), 0.001) / (2 * sqrt(pi())) AS step, avg(v.variance_ln) AS variance_ln
  FROM handed.cell_values AS v LEFT JOIN handed.steps AS s ON s.metric = v.metric GROUP BY v.metric
),
chances AS (
  SELECT t.first_row, exp(sum(t.runs * ln(least(1, u.step / sqrt(greatest(least(u.variance_ln, v.variance_ln), 1e-9)) / exp(v.mean_ln))))) AS chance
  FROM twins AS t JOIN handed.cell_values AS v ON v.cell = t.cell JOIN usual AS u ON u.metric = v.metric
  GROUP BY t.first_row
),
pairs AS (
  SELECT greatest(1, (SELECT sum(n * (n - 1) / 2) FROM (SELECT count(*) AS n FROM handed.cells GROUP BY workload, resolution))
    + (SELECT sum(n * (n - 1) / 2) FROM (SELECT count(*) AS n FROM handed.cells GROUP BY rig))) AS pairs
)
SELECT b.first_row AS _row, NULL AS column_name, NULL AS value,
  'the runs of ' || b.rig || ' ' || b.workload || ' ' || b.resolution || ' ' || b.level || ' have the values of ' ||
  string_agg(a.rig || ' ' || a.workload || ' ' || a.resolution || ' ' || a.level, ' and of ' ORDER BY a.first_row)
  || format('; by chance {:.1e} such pairs are expected in a set of this size', any_value(pairs * chance)) AS detail
FROM twins AS a JOIN twins AS b ON a.readings = b.readings AND a.first_row < b.first_row
  AND (a.rig = b.rig OR (a.workload = b.workload AND a.resolution = b.resolution))
JOIN chances ON chances.first_row = b.first_row CROSS JOIN pairs
WHERE pairs * chance < 0.001
GROUP BY b.first_row, b.rig, b.workload, b.resolution, b.level
