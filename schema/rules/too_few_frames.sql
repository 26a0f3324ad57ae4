-- Frames are counted where a capture was read; elsewhere they are the average times the length of the run. A run of another length
-- than its passage is named by that already.
WITH counted AS (
  SELECT r._row, r.rig, r.workload, any_value(c.frames) AS frames, false AS estimated
  FROM handed.run_frames AS c
  JOIN handed.runs AS r ON r._row = c._row
  SEMI JOIN study.workloads AS w ON w.workload = r.workload
  ANTI JOIN handed.found AS short ON short.rule = 'passage_length_differs' AND short._row = r._row
  WHERE r.role = 'measured' AND c.frames IS NOT NULL
  GROUP BY r._row, r.rig, r.workload
  UNION ALL
  SELECT m._row, m.rig, m.workload, min(round(m.value * coalesce(m.capture_for_s, m.duration_s, w.passage_length_s))), true
  FROM handed.measurements AS m
  JOIN study.metrics AS q ON q.metric = m.metric AND q.tail_rule = 'none' AND q.unit = 'fps' AND q.weighting = 'time'
  JOIN study.workloads AS w ON w.workload = m.workload
  ANTI JOIN handed.run_frames AS c ON c._row = m._row AND c.frames IS NOT NULL
  ANTI JOIN handed.found AS x ON x._table = 'runs' AND x._row = m._row AND x.column_name = m.metric
  ANTI JOIN handed.found AS short ON short.rule = 'passage_length_differs' AND short._row = m._row
  WHERE m.role = 'measured'
    AND m.value * coalesce(m.capture_for_s, m.duration_s, w.passage_length_s) < (SELECT max(fewest_frames) FROM study.metrics)
  GROUP BY m._row, m.rig, m.workload
),
stated AS (
  SELECT _row, metric FROM handed.measurements
  UNION ALL
  SELECT c._row, c.metric FROM handed.run_frames AS c
  JOIN handed.runs AS r ON r._row = c._row
  SEMI JOIN study.required_metrics AS q ON q.workload = r.workload AND q.metric = c.metric
  ANTI JOIN handed.measurements AS m ON m._row = c._row AND m.metric = c.metric
)
SELECT min(c._row) AS _row, s.metric AS column_name, NULL AS value,
  c.workload || ' on rig ' || c.rig || ': ' || count(*) || if(count(*) = 1, ' run has ', ' runs have ')
  || if(bool_or(c.estimated), 'about ', '') || CAST(min(c.frames) AS BIGINT) || if(count(*) = 1, ' frames, ', ' frames or more, ')
  || s.metric || ' asks for ' || any_value(q.fewest_frames) AS detail
FROM counted AS c
JOIN stated AS s ON s._row = c._row
JOIN study.metrics AS q ON q.metric = s.metric
WHERE c.frames < q.fewest_frames
GROUP BY c.rig, c.workload, s.metric
