SELECT _row, 'boot' AS column_name, CAST(boot AS VARCHAR) AS value,
  'boot ' || boot || ' of rig ' || rig || ' is dated ' || started_on || ', boot ' || earlier_boot || ' is dated ' || earlier_day AS detail
FROM (
  SELECT *, lag(boot) OVER w AS earlier_boot, lag(started_on) OVER w AS earlier_day
  FROM handed.sessions WINDOW w AS (PARTITION BY rig ORDER BY boot)
)
WHERE started_on < earlier_day
