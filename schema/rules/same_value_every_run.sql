-- Quiet cells agree by chance where values are rounded. The chance of a cell is the product, over metrics and further runs, of
-- step / (2 * sqrt(pi) * spread): the probability that two normal values round to the same figure. The spread taken is small,
-- a quarter of the set's median and 0.1 % at least. A cell is named where less than 0.01 such cells are expected in the set, or
-- where so many cells are alike that chance makes as many (Poisson, by its leading term) in less than one set of a hundred.
-- A cell that sits at a cap is not looked at: there equal values are no wonder.
WITH usual AS (
  SELECT v.metric, coalesce(any_value(s.reported_step), 0.001) AS step, greatest(0.001, median(sqrt(v.variance_ln)) / 4) AS spread,
    count(*) AS cells
  FROM handed.cell_values AS v LEFT JOIN handed.steps AS s ON s.metric = v.metric
  WHERE v.runs >= 2 GROUP BY v.metric
),
same AS (
  SELECT v.*, u.cells, least(0, (v.runs - 1) * ln(u.step / (2 * sqrt(pi()) * u.spread * v.lowest))) AS chance_ln
  FROM handed.cell_values AS v JOIN usual AS u ON u.metric = v.metric
  ANTI JOIN handed.at_rate AS capped ON capped.cell = v.cell
  WHERE v.cell IN (SELECT cell FROM handed.cells WHERE alike) AND v.runs >= 3 AND v.lowest = v.highest
),
alike AS (
  SELECT min(first_row) AS _row, min(metric) AS column_name, any_value(rig) AS rig, any_value(workload) AS workload,
    any_value(resolution) AS resolution, any_value(level) AS level, min(runs) AS runs,
    string_agg(metric, ' and ' ORDER BY metric) AS metrics, max(cells) * exp(sum(chance_ln)) AS expected, count(*) OVER () AS many
  FROM same
  GROUP BY cell
  HAVING count(*) = (SELECT count(DISTINCT metric) FROM handed.extremes WHERE lowest IS NOT NULL)
)
SELECT _row, column_name, NULL AS value,
  rig || ', ' || workload || ', ' || resolution || ', ' || level || ': all ' || runs || ' runs have the same ' || metrics ||
  format('; by chance {:.1e} such cells are expected in this set', expected) AS detail
FROM alike
WHERE expected < 0.01 OR (expected < 1 AND many * ln(expected) - lgamma(many + 1) < ln(0.01))
