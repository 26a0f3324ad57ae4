SELECT max(_row) AS _row, 'driver_date' AS column_name, driver_version AS value,
  'driver ' || driver_version || ' is dated ' || string_agg(DISTINCT CAST(driver_date AS VARCHAR), ' and ') AS detail
FROM handed.sessions GROUP BY driver_version HAVING count(DISTINCT driver_date) > 1
UNION ALL
SELECT max(s._row), 'firmware_date', s.firmware_version,
  'firmware ' || s.firmware_version || ' is dated ' || string_agg(DISTINCT CAST(s.firmware_date AS VARCHAR), ' and ')
FROM handed.sessions AS s JOIN handed.rigs AS r USING (rig)
GROUP BY r.platform, s.firmware_version HAVING count(DISTINCT s.firmware_date) > 1
