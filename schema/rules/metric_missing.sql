-- A metric that no measured run has is one thing missing, not one in each row.
WITH lacking AS (
  SELECT r._row, r.workload, q.metric
  FROM handed.runs AS r
  JOIN study.required_metrics AS q ON r.workload = q.workload
  ANTI JOIN handed.measurements AS m ON m._row = r._row AND m.metric = q.metric
  ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = r._row AND f.column_name = q.metric
  WHERE r.role = 'measured' AND r.capture_file IS NULL
),
nowhere AS (
  SELECT l.metric, min(l._row) AS _row, count(*) AS many, min(l.workload) AS workload
  FROM lacking AS l
  ANTI JOIN (
    SELECT m.metric FROM handed.measurements AS m JOIN handed.placed AS p ON p._row = m._row
    UNION ALL SELECT column_name FROM handed.found WHERE _table = 'runs'
  ) AS held ON held.metric = l.metric
  GROUP BY l.metric
)
SELECT _row, metric AS column_name, NULL AS value,
  if(many = 1, 'the one measured run has no ', 'not one of ' || many || ' measured runs has ') || metric || ', which ' || workload || ' requires' AS detail
FROM nowhere
UNION ALL
SELECT l._row, l.metric, NULL, l.workload || ' requires ' || l.metric
FROM lacking AS l ANTI JOIN nowhere AS n ON n.metric = l.metric
