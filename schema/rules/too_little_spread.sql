-- Only where the values are fine enough to show such a spread. A tenth of a per cent is common practice, no source.
SELECT min(v.first_row) AS _row, v.metric AS column_name, NULL AS value,
  'half of the ' || count(*) || ' cells have a spread below ' || round(100 * median(sqrt(v.variance_ln)), 4) || ' %' AS detail
FROM handed.cell_values AS v
JOIN study.metrics AS q ON q.metric = v.metric AND q.tail_rule = 'none'
JOIN handed.steps AS s ON s.metric = v.metric
WHERE v.runs >= 3 AND s.reported_step / v.lowest < 0.0002
GROUP BY v.metric HAVING count(*) >= 4 AND median(sqrt(v.variance_ln)) < 0.0003
