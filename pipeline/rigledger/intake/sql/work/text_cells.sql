-- Every free text of the set, cell by cell.
CREATE $kind handed.text_cells AS
SELECT 'runs' AS _table, _row, 'level_check' AS column_name, level_check AS value FROM handed.runs WHERE level_check IS NOT NULL
UNION ALL SELECT 'runs', _row, 'reason', reason FROM handed.runs WHERE reason IS NOT NULL
UNION ALL SELECT 'runs', _row, 'title_build', title_build FROM handed.runs WHERE title_build IS NOT NULL
UNION ALL SELECT 'runs', _row, 'capture_file', capture_file FROM handed.runs WHERE capture_file IS NOT NULL
UNION ALL SELECT 'sessions', _row, unnest(['firmware_version', 'driver_version', 'card_firmware_version', 'os', 'os_build', 'profile']),
  unnest([firmware_version, driver_version, card_firmware_version, os, os_build, profile]) FROM handed.sessions
UNION ALL SELECT 'sessions', _row, fact, value FROM handed.facts WHERE unit IS NULL
UNION ALL SELECT 'rigs', _row, unnest(['platform_unit', 'card_unit']), unnest([platform_unit, card_unit]) FROM handed.rigs
UNION ALL SELECT 'set', _row, unnest(['shown_name', 'notes']), unnest([shown_name, notes]) FROM handed.set
