SELECT _row, 'started_at' AS column_name, strftime(started_at, '%Y-%m-%dT%H:%M:%SZ') AS value,
  'the run in row ' || earlier || ' of rig ' || rig || ' lasts until ' || ends || ' UTC' AS detail
FROM (
  SELECT _row, rig, started_at, lag(_row) OVER w AS earlier,
    lag(started_at + to_milliseconds(CAST(duration_s * 1000 AS BIGINT))) OVER w AS ends
  FROM handed.runs WHERE started_at IS NOT NULL
  WINDOW w AS (PARTITION BY rig ORDER BY started_at, _row)
)
WHERE started_at < ends - INTERVAL 1 SECOND
