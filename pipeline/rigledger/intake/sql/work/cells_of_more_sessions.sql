-- A row where a cell was measured in more sessions than one.
SELECT 1
FROM handed.block_sums
WHERE measured
GROUP BY rig, stack_key, workload, title_build, resolution, level
HAVING count(*) > 1
LIMIT 1
