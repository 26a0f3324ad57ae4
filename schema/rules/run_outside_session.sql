SELECT r._row, 'started_at' AS column_name, strftime(r.started_at, '%Y-%m-%dT%H:%M:%SZ') AS value,
  'the run starts at ' || r.started_at || ' UTC, its session ' ||
  if(s.started_at IS NULL, 'on ' || s.started_on, 'at ' || s.started_at || ' UTC') AS detail
FROM handed.runs AS r JOIN handed.sessions AS s USING (rig, session)
WHERE r.started_at IS NOT NULL AND (
  r.started_at < coalesce(s.started_at - INTERVAL 1 MINUTE, s.started_on - INTERVAL 14 HOUR)
  OR r.started_at > s.started_on + INTERVAL 8 DAY
)
