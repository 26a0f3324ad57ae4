SELECT _row, 'firmware_version' AS column_name, firmware_version AS value, NULL AS detail
FROM handed.sessions WHERE lower(firmware_version) = 'unknown'
UNION ALL
SELECT _row, 'driver_version', driver_version, NULL FROM handed.sessions WHERE lower(driver_version) = 'unknown'
UNION ALL
SELECT _row, 'card_firmware_version', card_firmware_version, NULL FROM handed.sessions WHERE lower(card_firmware_version) = 'unknown'
UNION ALL
SELECT _row, 'os_build', os_build, NULL FROM handed.sessions WHERE lower(os_build) = 'unknown'
