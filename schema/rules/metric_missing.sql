-- A metric that no measured run has is one thing missing, not one in each row.
WITH lacking AS (
  SELECT r._row, r.workload, r.metric
  FROM (
    SELECT b.* FROM handed.blanks AS b
    SEMI JOIN study.required_metrics AS q ON q.workload = b.workload AND q.metric = b.metric
    UNION ALL
    SELECT a._row, a.workload, a.role, a.capture_file, q.metric
    FROM (FROM study.required_metrics ANTI JOIN handed.metric_columns USING (metric)) AS q
    JOIN handed.runs AS a ON a.workload = q.workload
  ) AS r
  ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = r._row AND f.column_name = r.metric
  WHERE r.role = 'measured' AND r.capture_file IS NULL
),
nowhere AS (
  SELECT l.metric, min(l._row) AS _row, count(*) AS many, min(l.workload) AS workload
  FROM lacking AS l
  ANTI JOIN (
    SELECT m.metric FROM handed.measurements AS m
    WHERE m.role = 'measured' AND m.metric IN (SELECT metric FROM lacking)
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
