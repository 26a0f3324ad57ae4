-- Two levels must sit there, closely together: one cell alone lands near one of the rates by chance too often.
SELECT min(first_row) AS _row, any_value(metric) AS column_name, CAST(CAST(rate AS INTEGER) AS VARCHAR) AS value,
  rig || ', ' || workload || ', ' || resolution || ' stays at ' || CAST(rate AS INTEGER) || ' fps at ' || count(DISTINCT level) || ' levels' AS detail
FROM handed.at_rate JOIN study.workloads AS w USING (workload)
WHERE common AND w.frame_cap_fps IS NULL
GROUP BY rig, workload, resolution, rate
HAVING count(DISTINCT level) > 1 AND max(mean_ln) - min(mean_ln) < 0.0015
