-- What looks like milliseconds is named by that already.
SELECT m._row, m.metric AS column_name, CAST(m.value AS VARCHAR) AS value,
  m.workload || ' at ' || m.resolution || ' plausibly gives ' || p.least || ' to ' || p.most || ', this is ' || m.value AS detail
FROM handed.measurements AS m
JOIN study.plausible_ranges AS p ON p.workload = m.workload AND p.resolution = m.resolution AND p.metric = m.metric
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = m._row AND f.column_name = m.metric
WHERE m.role IN ('measured', 'sentinel') AND m.value NOT BETWEEN p.least AND p.most
