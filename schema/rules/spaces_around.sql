WITH texts AS (
  SELECT 'sessions' AS _table, _row, unnest(['firmware_version', 'driver_version', 'card_firmware_version', 'os', 'os_build', 'profile']) AS column_name,
    unnest([firmware_version, driver_version, card_firmware_version, os, os_build, profile]) AS value FROM handed.sessions
  UNION ALL SELECT 'runs', _row, 'title_build', title_build FROM handed.runs WHERE title_build <> trim(title_build)
)
SELECT _table, _row, column_name, value, NULL AS detail FROM texts WHERE value <> trim(value)
