-- One row a kind of runs and metric: the least and the greatest value, and how short and how long its runs are.
SELECT workload, resolution, level, role, shortest, longest, $metric AS metric, $lowest AS lowest, $highest AS highest
FROM handed.mixes
WHERE $lowest IS NOT NULL
