-- The gap must exceed 3 % and four standard errors by the spread of the two cells or of the whole set, whichever is larger. What
-- would spare the query takes as long as to find the few series in which the order of the resolutions is not that of the rates.
WITH usual AS (SELECT metric, avg(variance_ln) AS variance_ln FROM handed.cell_values GROUP BY metric),
means AS MATERIALIZED (SELECT * FROM handed.rate_means),
rising AS MATERIALIZED (
  SELECT series FROM means GROUP BY series
  HAVING max_by(pixels, mean_ln) > min(pixels) OR min_by(pixels, mean_ln) < max(pixels) OR count(*) > 3
),
v AS MATERIALIZED (
  SELECT c.*, u.variance_ln AS usual
  FROM means AS c SEMI JOIN rising USING (series) JOIN usual AS u ON u.metric = c.metric
)
SELECT h.first_row AS _row, 'resolution' AS column_name, h.resolution AS value,
  h.rig || ', ' || h.workload || ', ' || h.level || ': ' || round(exp(h.mean_ln), 1) || ' fps at ' || h.resolution || ', ' ||
  round(exp(l.mean_ln), 1) || ' at ' || l.resolution AS detail
FROM v AS h JOIN v AS l ON h.series = l.series AND h.pixels > l.pixels
WHERE h.mean_ln - l.mean_ln > 0.03
  AND h.mean_ln - l.mean_ln > 4 * sqrt(greatest(h.variance_ln, h.usual) / h.runs + greatest(l.variance_ln, l.usual) / l.runs)
