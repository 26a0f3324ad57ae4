-- One row a run and metric, for one metric, with what places the run.
SELECT
  _row, rig, session, run, workload, title_build, resolution, level, role, duration_s, capture_for_s,
  $metric AS metric,
  $value AS value
FROM handed.runs
WHERE $has
