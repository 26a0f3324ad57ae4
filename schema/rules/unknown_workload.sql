SELECT t._row, 'workload' AS column_name, t.workload AS value, 'the study has no workload ' || t.workload AS detail
FROM handed.runs AS t
ANTI JOIN study.workloads AS known ON t.workload = known.workload
WHERE t.workload IS NOT NULL
