-- One row a run and metric, in place of one column a metric. The step is the same for a whole column of the set.
SELECT
  s.contributor || '.' || m.rig || '.' || m.session || '.' || m.run AS run,
  m.metric,
  'reported' AS origin,
  m.value,
  steps.reported_step,
  NULL AS frames
FROM handed.measurements AS m
LEFT JOIN handed.steps AS steps USING (metric)
CROSS JOIN handed.set AS s
