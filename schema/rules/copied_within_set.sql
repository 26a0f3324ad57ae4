WITH cells AS (
  SELECT rig, session, workload, title_build, resolution, level, min(_row) AS first_row, count(*) AS runs,
    list((average_fps, low_1pct_rank_fps, low_1pct_share_of_frames_fps, low_1pct_share_of_time_fps, low_1pct_unstated_fps) ORDER BY pass) AS readings
  FROM handed.runs WHERE role = 'measured' AND average_fps IS NOT NULL GROUP BY ALL HAVING count(*) >= 3
)
SELECT max(first_row) AS _row, NULL AS column_name, NULL AS value,
  'the runs of ' || string_agg(rig || ' ' || workload || ' ' || resolution || ' ' || level, ' and of ' ORDER BY first_row) || ' have the same values' AS detail
FROM cells WHERE len(list_distinct(readings)) > 1
GROUP BY readings HAVING count(*) > 1
