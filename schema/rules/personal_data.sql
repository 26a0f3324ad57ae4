WITH texts AS (
  SELECT 'runs' AS _table, _row, 'level_check' AS column_name, level_check AS value FROM handed.runs WHERE level_check IS NOT NULL
  UNION ALL SELECT 'runs', _row, 'reason', reason FROM handed.runs WHERE reason IS NOT NULL
  UNION ALL SELECT 'runs', _row, 'capture_file', capture_file FROM handed.runs WHERE capture_file IS NOT NULL
  UNION ALL SELECT 'sessions', _row, 'profile', profile FROM handed.sessions
  UNION ALL SELECT 'sessions', _row, fact, value FROM handed.facts WHERE unit IS NULL
  UNION ALL SELECT 'rigs', _row, 'platform_unit', platform_unit FROM handed.rigs
  UNION ALL SELECT 'rigs', _row, 'card_unit', card_unit FROM handed.rigs
  UNION ALL SELECT 'set', _row, 'shown_name', shown_name FROM handed.set
)
SELECT _table, _row, column_name, value,
  'the text holds what looks like ' || CASE
    WHEN regexp_matches(value, '[A-Za-z0-9._%+-]+@[A-Za-z0-9-]+([.][A-Za-z0-9-]+)+') THEN 'an e-mail address'
    WHEN regexp_matches(value, '(?i)([a-z]:[\\/]users[\\/][^\\/ ]+|/home/[^/ ]+|/users/[^/ ]+)') THEN 'a home folder'
    ELSE 'a serial number' END AS detail
FROM texts
WHERE regexp_matches(value, '[A-Za-z0-9._%+-]+@[A-Za-z0-9-]+([.][A-Za-z0-9-]+)+')
  OR regexp_matches(value, '(?i)([a-z]:[\\/]users[\\/][^\\/ ]+|/home/[^/ ]+|/users/[^/ ]+)')
  OR regexp_matches(value, '(?i)(\b(s/n|serial( number| no[.]?)?)\s*[:=#]?\s*[a-z0-9-]{6,}|\b[A-Z0-9]{4,}[0-9]{6,}\b)')
