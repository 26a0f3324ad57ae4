WITH texts AS (
  SELECT 'runs' AS _table, _row, 'level_check' AS column_name, level_check AS value FROM handed.runs WHERE level_check IS NOT NULL
  UNION ALL SELECT 'runs', _row, 'reason', reason FROM handed.runs WHERE reason IS NOT NULL
  UNION ALL SELECT 'runs', _row, 'title_build', title_build FROM handed.runs WHERE title_build[1] IN ('=', '+', '-', '@', chr(9), chr(13))
  UNION ALL SELECT 'sessions', _row, unnest(['firmware_version', 'driver_version', 'card_firmware_version', 'os', 'os_build', 'profile']),
    unnest([firmware_version, driver_version, card_firmware_version, os, os_build, profile]) FROM handed.sessions
  UNION ALL SELECT 'sessions', _row, fact, value FROM handed.facts WHERE unit IS NULL
  UNION ALL SELECT 'rigs', _row, unnest(['platform_unit', 'card_unit']), unnest([platform_unit, card_unit]) FROM handed.rigs
  UNION ALL SELECT 'set', _row, 'shown_name', shown_name FROM handed.set
)
SELECT _table, _row, column_name, value, 'the text starts with ' || value[1] || ', as formulas do' AS detail
FROM texts
WHERE value[1] IN ('=', '+', '-', '@', chr(9), chr(13)) AND NOT regexp_full_match(value, '[-+]?[0-9]+([.][0-9]+)?')
