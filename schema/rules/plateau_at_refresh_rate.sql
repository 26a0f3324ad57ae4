-- Two levels must sit there, closely together: one cell alone lands near one of the rates by chance too often.
WITH rates AS (SELECT unnest([30, 60, 72, 75, 90, 100, 120, 144, 165, 180, 240, 280, 360, 480]) AS rate),
at_rate AS (
  SELECT v.*, rate
  FROM handed.cell_values AS v
  JOIN study.metrics AS q ON q.metric = v.metric AND q.tail_rule = 'none' AND q.unit = 'fps'
  JOIN rates ON v.lowest > rate * 0.997 AND v.highest < rate * 1.0005
  WHERE v.runs >= 2 AND v.highest < v.lowest * 1.002
)
SELECT min(first_row) AS _row, any_value(metric) AS column_name, CAST(rate AS VARCHAR) AS value,
  rig || ', ' || workload || ', ' || resolution || ' stays at ' || rate || ' fps at ' || count(DISTINCT level) || ' levels' AS detail
FROM at_rate JOIN study.workloads AS w USING (workload)
WHERE w.frame_cap_fps IS NULL
GROUP BY rig, workload, resolution, rate
HAVING count(DISTINCT level) > 1 AND max(mean_ln) - min(mean_ln) < 0.0015
