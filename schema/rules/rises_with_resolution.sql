-- The gap must exceed 3 % and four standard errors by the spread of the two cells or of the whole set, whichever is larger.
WITH usual AS (SELECT metric, avg(variance_ln) AS variance_ln FROM handed.cell_values GROUP BY metric),
v AS (
  SELECT c.*, CAST(split_part(c.resolution, 'x', 1) AS BIGINT) * CAST(split_part(c.resolution, 'x', 2) AS BIGINT) AS pixels,
    u.variance_ln AS usual
  FROM handed.cell_values AS c JOIN study.metrics AS q ON q.metric = c.metric AND q.tail_rule = 'none' AND q.unit = 'fps'
  JOIN usual AS u ON u.metric = c.metric
  WHERE c.runs >= 2
)
SELECT h.first_row AS _row, 'resolution' AS column_name, h.resolution AS value,
  h.rig || ', ' || h.workload || ', ' || h.level || ': ' || round(exp(h.mean_ln), 1) || ' fps at ' || h.resolution || ', ' ||
  round(exp(l.mean_ln), 1) || ' at ' || l.resolution AS detail
FROM v AS h JOIN v AS l ON h.series = l.series AND h.metric = l.metric AND h.pixels > l.pixels
WHERE h.mean_ln - l.mean_ln > 0.03
  AND h.mean_ln - l.mean_ln > 4 * sqrt(greatest(h.variance_ln, h.usual) / h.runs + greatest(l.variance_ln, l.usual) / l.runs)
