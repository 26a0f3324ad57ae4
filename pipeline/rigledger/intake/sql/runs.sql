-- The position in the session is the order of the starting times where every run of the session has one, else the order of
-- the run numbers (as numbers where they are numbers).
SELECT
  s.contributor || '.' || h.rig || '.' || h.session || '.' || h.run AS run,
  s.contributor || '.' || h.rig || '.' || h.session AS session,
  h.workload,
  h.title_build,
  h.resolution,
  h.level,
  h.level_state,
  h.level_check,
  h.role,
  h.reason,
  h.pass,
  row_number() OVER (
    PARTITION BY h.rig, h.session
    ORDER BY if(timed.every_run, h.started_at, NULL), try_cast(h.run AS BIGINT) NULLS LAST, h.run
  ) AS position,
  date_trunc('second', h.started_at) AS started_at,
  h.duration_s,
  c.capture,
  h.capture_from_s,
  h.capture_for_s
FROM handed.runs AS h
JOIN (
  SELECT rig, session, count(*) = count(started_at) AS every_run FROM handed.runs GROUP BY rig, session
) AS timed USING (rig, session)
LEFT JOIN handed.captures AS c USING (capture_file)
CROSS JOIN handed.set AS s
