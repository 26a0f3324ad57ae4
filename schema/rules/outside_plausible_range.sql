-- What looks like milliseconds is named by that already.
SELECT m._row, m.metric AS column_name, CAST(m.value AS VARCHAR) AS value,
  r.workload || ' at ' || r.resolution || ' plausibly gives ' || p.least || ' to ' || p.most || ', this is ' || m.value AS detail
FROM handed.measurements AS m
JOIN handed.runs AS r USING (_row)
JOIN study.plausible_ranges AS p ON p.workload = r.workload AND p.resolution = r.resolution AND p.metric = m.metric
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = m._row AND f.column_name = m.metric
WHERE r.role IN ('measured', 'sentinel') AND m.value NOT BETWEEN p.least AND p.most
