SELECT _row, column_name, value, value || ' is how a spreadsheet writes a number or a day, not a version' AS detail
FROM (
  SELECT _row, unnest(['firmware_version', 'driver_version', 'card_firmware_version', 'os_build']) AS column_name,
    unnest([firmware_version, driver_version, card_firmware_version, os_build]) AS value
  FROM handed.sessions
)
WHERE regexp_full_match(value, '[0-9]+([.,][0-9]+)?[eE][+][0-9]+')
  OR regexp_full_match(value, '[0-9]{4}-[0-9]{2}-[0-9]{2}[ T]00:00:00.*')
  OR regexp_full_match(lower(value), '[0-9]{1,2}[-. ](jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*([-. ][0-9]{2,4})?')
