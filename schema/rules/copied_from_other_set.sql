-- A cell counts when its three or more runs have the values of a cell of another set, pass by pass, and differ among themselves.
-- Two such cells are asked for, or one whose values have four digits or more: fewer agree by chance.
WITH mine AS (
  SELECT p.block, any_value(r.workload) AS workload, min(r._row) AS first_row, min(r.average_fps) AS lowest, max(r.average_fps) AS highest,
    bit_xor(hash(r.pass, *COLUMNS('.*_fps$'))) AS readings
  FROM handed.placed AS p JOIN handed.runs AS r USING (_row)
  WHERE r.average_fps IS NOT NULL GROUP BY p.block HAVING count(*) >= 3
),
theirs AS (
  SELECT set_id, workload, bit_xor(hash(pass, *COLUMNS('.*_fps$'))) AS readings
  FROM admitted.runs WHERE role = 'measured' AND average_fps IS NOT NULL
  GROUP BY set_id, rig, session, workload, title_build, resolution, level HAVING count(*) >= 3
)
SELECT min(m.first_row) AS _row, NULL AS column_name, t.set_id AS value,
  if(count(DISTINCT m.block) = 1, 'a cell has', count(DISTINCT m.block) || ' cells have') || ' the values of cells in the set ' || t.set_id AS detail
FROM mine AS m JOIN theirs AS t ON m.readings = t.readings AND m.workload = t.workload
WHERE m.lowest < m.highest
GROUP BY t.set_id HAVING count(DISTINCT m.block) > 1 OR max(m.highest) >= 100
