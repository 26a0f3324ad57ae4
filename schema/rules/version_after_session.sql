SELECT _row, 'driver_date' AS column_name, CAST(driver_date AS VARCHAR) AS value,
  'the driver is of ' || driver_date || ', the session of ' || started_on AS detail
FROM handed.sessions WHERE driver_date > started_on
UNION ALL
SELECT _row, 'firmware_date', CAST(firmware_date AS VARCHAR), 'the firmware is of ' || firmware_date || ', the session of ' || started_on
FROM handed.sessions WHERE firmware_date > started_on
