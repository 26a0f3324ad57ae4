-- A stack is what it says: the same versions are one stack whatever the dates. Its name is a short hash of the versions,
-- joined by the unit separator in the order of the table's columns; a blank memory speed counts as an empty text.
SELECT
  s.contributor || '.stack-' || sha256(
    firmware_version || chr(31) || driver_version || chr(31) || card_firmware_version || chr(31) || os || chr(31)
    || os_build || chr(31) || coalesce(CAST(memory_speed_mts AS VARCHAR), '') || chr(31) || profile
  )[:12] AS stack,
  s.contributor,
  firmware_version,
  max(firmware_date) AS firmware_date,
  driver_version,
  max(driver_date) AS driver_date,
  card_firmware_version,
  os,
  os_build,
  memory_speed_mts,
  profile
FROM handed.sessions, handed.set AS s
GROUP BY
  s.contributor, firmware_version, driver_version, card_firmware_version, os, os_build, memory_speed_mts, profile
