-- Over a rig's cells a low rises and falls with the average; as milliseconds it falls where the average rises, and their product
-- hardly moves. Asked for: averages a factor 1.3 apart, a product four times as steady as the quotient, and lows that are lows as ms.
-- Where the averages are milliseconds, by the row itself: on the rig, the lows fit the averages better as times than as rates.
WITH turned AS (
  SELECT rig, metric, exp(min(average_ln)) AS slowest, exp(max(average_ln)) AS fastest
  FROM handed.low_means
  GROUP BY rig, metric
  HAVING count(*) >= 3 AND max(average_ln) - min(average_ln) > ln(1.3)
    AND 4 * stddev_samp(low_ln + average_ln) < stddev_samp(low_ln - average_ln)
    AND bool_and(ln(1000) - low_ln BETWEEN average_ln - ln(20) AND average_ln)
), beside AS (
  SELECT l._row, l.rig, l.metric, l.value, ln(1000 / a.value) AS average_ln, ln(l.value) AS low_ln
  FROM handed.found AS f
  JOIN handed.measurements AS a ON a._row = f._row AND a.metric = f.column_name
  JOIN study.metrics AS am ON am.metric = a.metric AND am.tail_rule = 'none' AND am.unit = 'fps' AND am.weighting = 'time'
  JOIN handed.measurements AS l ON l._row = a._row AND l.value > 0
  JOIN study.metrics AS lm ON lm.metric = l.metric AND lm.unit = 'fps' AND lm.tail_pct < 50
  WHERE f.rule = 'looks_like_milliseconds' AND f._table = 'runs'
), too AS (
  SELECT rig, metric FROM beside
  GROUP BY rig, metric
  HAVING median(average_ln - ln(1000) + low_ln) BETWEEN 0 AND ln(20)
    AND median(abs(average_ln - ln(1000) + low_ln)) + ln(1.5) < median(abs(average_ln - low_ln))
)
SELECT m._row, m.metric AS column_name, CAST(m.value AS VARCHAR) AS value,
  m.metric || ' is ' || m.value || '; on rig ' || t.rig || ' it falls where the average rises from ' || round(t.slowest, 1) || ' to '
  || round(t.fastest, 1) || ' fps; 1000 / ' || m.value || ' = ' || round(1000 / m.value, 1) || ' would fit' AS detail
FROM turned AS t
JOIN handed.runs AS r ON r.rig = t.rig AND r.role = 'measured'
JOIN handed.measurements AS m ON m._row = r._row AND m.metric = t.metric
UNION ALL
SELECT b._row, b.metric, CAST(b.value AS VARCHAR),
  'the average of the run is in milliseconds, and so is this low: 1000 / ' || b.value || ' = ' || round(1000 / b.value, 1) || ' fits it'
FROM beside AS b JOIN too AS t ON t.rig = b.rig AND t.metric = b.metric
