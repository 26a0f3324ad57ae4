SELECT m._row, m.metric AS column_name, CAST(m.value AS VARCHAR) AS value,
  'plausible are ' || p.least || ' to ' || p.most || ' ' || q.unit || '; 1000 / ' || m.value || ' = ' || round(1000 / m.value, 1) || ' would be' AS detail
FROM handed.measurements AS m
JOIN handed.runs AS r USING (_row)
JOIN study.plausible_ranges AS p ON p.workload = r.workload AND p.resolution = r.resolution AND p.metric = m.metric
JOIN study.metrics AS q ON q.metric = m.metric
WHERE r.role IN ('measured', 'sentinel') AND q.unit IN ('fps', 'ms') AND m.value > 0
  AND m.value NOT BETWEEN p.least AND p.most AND 1000 / m.value BETWEEN p.least AND p.most
