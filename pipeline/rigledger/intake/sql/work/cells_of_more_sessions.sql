-- A row where a cell was measured in more sessions than one. Where no session of a rig repeats a level, none was; that is seen
-- from fewer rows.
WITH levels AS MATERIALIZED (
  SELECT rig, stack_key, level
  FROM (SELECT DISTINCT rig, stack_key, session, level FROM handed.block_sums WHERE measured)
  GROUP BY ALL
  HAVING count(*) > 1
)
SELECT 1
FROM handed.block_sums AS b
SEMI JOIN levels AS l
  ON l.rig IS NOT DISTINCT FROM b.rig AND l.stack_key IS NOT DISTINCT FROM b.stack_key AND l.level IS NOT DISTINCT FROM b.level
WHERE measured
GROUP BY rig, stack_key, workload, title_build, resolution, level
HAVING count(*) > 1
LIMIT 1
