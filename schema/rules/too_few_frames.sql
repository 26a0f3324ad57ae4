SELECT min(r._row) AS _row, m.metric AS column_name, NULL AS value,
  r.workload || ' on rig ' || r.rig || ': ' || count(*) || ' runs have about ' || CAST(min(round(f.value * coalesce(r.capture_for_s, r.duration_s, w.passage_length_s))) AS BIGINT)
  || ' frames or more, ' || m.metric || ' asks for ' || any_value(q.fewest_frames) AS detail
FROM handed.runs AS r
JOIN study.workloads AS w ON w.workload = r.workload
JOIN handed.measurements AS f ON f._row = r._row
JOIN study.metrics AS fm ON fm.metric = f.metric AND fm.tail_rule = 'none' AND fm.unit = 'fps' AND fm.weighting = 'time'
JOIN handed.measurements AS m ON m._row = r._row
JOIN study.metrics AS q ON q.metric = m.metric
WHERE r.role = 'measured' AND f.value * coalesce(r.capture_for_s, r.duration_s, w.passage_length_s) < q.fewest_frames
GROUP BY r.rig, r.workload, m.metric
