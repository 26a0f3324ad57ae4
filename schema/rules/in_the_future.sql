SELECT _row, 'started_on' AS column_name, CAST(started_on AS VARCHAR) AS value, 'sessions' AS _table,
  'the session is dated ' || started_on || ', today is ' || current_date AS detail
FROM handed.sessions WHERE started_on > current_date + 1
UNION ALL
SELECT _row, 'started_at', strftime(started_at, '%Y-%m-%dT%H:%M:%SZ'), 'runs', 'the run starts at ' || started_at || ' UTC'
FROM handed.runs WHERE started_at > current_date + 2
