-- Quiet cells agree by chance where values are rounded. The chance of a cell is the product, over metrics and further runs, of
-- step / (2 * sqrt(pi) * spread): the probability that two normal values round to the same figure. The spread taken is small,
-- a quarter of the set's median and 0.1 % at least. A cell is named where less than 0.01 such cells are expected in the set.
WITH usual AS (
  SELECT v.metric, coalesce(any_value(s.reported_step), 0.001) AS step, greatest(0.001, median(sqrt(v.variance_ln)) / 4) AS spread,
    count(*) AS cells
  FROM handed.cell_values AS v LEFT JOIN handed.steps AS s ON s.metric = v.metric
  WHERE v.runs >= 2 GROUP BY v.metric
),
same AS (
  SELECT v.*, u.cells, least(0, (v.runs - 1) * ln(u.step / (2 * sqrt(pi()) * u.spread * v.lowest))) AS chance_ln
  FROM handed.cell_values AS v JOIN usual AS u ON u.metric = v.metric
  WHERE v.runs >= 3 AND v.lowest = v.highest
)
SELECT min(first_row) AS _row, min(metric) AS column_name, NULL AS value,
  any_value(rig) || ', ' || any_value(workload) || ', ' || any_value(resolution) || ', ' || any_value(level) || ': all ' ||
  min(runs) || ' runs have the same ' || string_agg(metric, ' and ' ORDER BY metric) ||
  format('; by chance {:.1e} such cells are expected in this set', max(cells) * exp(sum(chance_ln))) AS detail
FROM same
GROUP BY cell
HAVING count(*) = (SELECT count(DISTINCT metric) FROM handed.measurements) AND max(cells) * exp(sum(chance_ln)) < 0.01
