-- What is known of a run's length: its window in the capture, its duration, else the capture itself.
WITH shared AS (
  -- A length between them fits every passage: most runs need no look at their own.
  SELECT 0.901 * max(passage_length_s) AS shortest, 1.099 * min(passage_length_s) AS longest FROM study.workloads
),
lengths AS (
  SELECT r._row, r.workload, r.capture_file,
    CASE WHEN r.capture_for_s IS NOT NULL THEN 'capture_for_s' WHEN r.duration_s IS NOT NULL THEN 'duration_s' ELSE 'capture_file' END
      AS column_name,
    coalesce(r.capture_for_s, r.duration_s, c.seconds) AS seconds
  FROM handed.runs AS r
  LEFT JOIN (SELECT _row, any_value(seconds) AS seconds FROM handed.run_frames GROUP BY _row) AS c ON c._row = r._row
  WHERE r.role IN ('measured', 'sentinel')
    AND coalesce(coalesce(r.capture_for_s, r.duration_s) NOT BETWEEN (SELECT shortest FROM shared) AND (SELECT longest FROM shared), true)
)
SELECT l._row, l.column_name, if(l.column_name = 'capture_file', l.capture_file, CAST(l.seconds AS VARCHAR)) AS value,
  'the passage of ' || l.workload || ' lasts ' || w.passage_length_s || ' s, this '
  || if(l.column_name = 'capture_file', 'capture covers ', 'run ') || round(l.seconds, 2) || ' s'
  || CASE WHEN l.column_name <> 'capture_file' THEN ''
    WHEN l.seconds * 1000 BETWEEN 0.8 * w.passage_length_s AND 1.2 * w.passage_length_s THEN '; were its times seconds, it would fit'
    WHEN l.seconds / 1000 BETWEEN 0.8 * w.passage_length_s AND 1.2 * w.passage_length_s THEN '; were its times milliseconds, it would fit'
    ELSE '' END AS detail
FROM lengths AS l JOIN study.workloads AS w ON w.workload = l.workload
WHERE abs(l.seconds - w.passage_length_s) > 0.1 * w.passage_length_s
