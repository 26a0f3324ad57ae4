-- A cell counts when all of its three or more runs have the same averages and lows as a cell of another set, pass by pass.
WITH mine AS (
  SELECT rig, session, workload, resolution, level, min(_row) AS first_row, count(*) AS runs,
    list((average_fps, low_1pct_rank_fps, low_1pct_share_of_frames_fps, low_1pct_share_of_time_fps, low_1pct_unstated_fps) ORDER BY pass) AS readings
  FROM handed.runs WHERE role = 'measured' AND average_fps IS NOT NULL GROUP BY ALL HAVING count(*) >= 3
),
theirs AS (
  SELECT set_id, rig, session, workload, resolution, level,
    list((average_fps, low_1pct_rank_fps, low_1pct_share_of_frames_fps, low_1pct_share_of_time_fps, low_1pct_unstated_fps) ORDER BY pass) AS readings
  FROM admitted.runs WHERE role = 'measured' AND average_fps IS NOT NULL GROUP BY ALL HAVING count(*) >= 3
)
SELECT min(m.first_row) AS _row, NULL AS column_name, t.set_id AS value,
  count(DISTINCT (m.rig, m.session, m.workload, m.resolution, m.level)) || ' cells have the values of cells in the set ' || t.set_id AS detail
FROM mine AS m JOIN theirs AS t ON m.readings = t.readings AND m.workload = t.workload
WHERE len(list_distinct(m.readings)) > 1
GROUP BY t.set_id
