WITH texts AS (
  SELECT 'sessions' AS _table, _row, unnest(['firmware_version', 'driver_version', 'card_firmware_version', 'os', 'os_build', 'profile']) AS column_name,
    unnest([firmware_version, driver_version, card_firmware_version, os, os_build, profile]) AS value FROM handed.sessions
  UNION ALL SELECT 'sessions', _row, fact, value FROM handed.facts WHERE unit IS NULL
  UNION ALL SELECT 'rigs', _row, unnest(['platform_unit', 'card_unit']), unnest([platform_unit, card_unit]) FROM handed.rigs
  UNION ALL SELECT 'set', _row, unnest(['shown_name', 'notes']), unnest([shown_name, notes]) FROM handed.set
  UNION ALL SELECT 'runs', _row, 'title_build', title_build FROM handed.runs
  UNION ALL SELECT 'runs', _row, 'level_check', level_check FROM handed.runs WHERE level_check IS NOT NULL
  UNION ALL SELECT 'runs', _row, 'reason', reason FROM handed.runs WHERE reason IS NOT NULL
)
SELECT _table, _row, column_name, value, NULL AS detail FROM texts
WHERE regexp_matches(value, '[^[:ascii:]]|[\x00-\x08\x0b-\x1f\x7f]') AND regexp_matches(value, '[\p{Cf}\p{Co}\p{Zl}\p{Zp}\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x{9f}]')
