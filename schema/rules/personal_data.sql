SELECT c._table, c._row, c.column_name, c.value, t.detail
FROM (
  SELECT *,
  'the text holds what looks like ' || CASE
    WHEN regexp_matches(value, '[A-Za-z0-9._%+-]+@[A-Za-z0-9-]+([.][A-Za-z0-9-]+)+') THEN 'an e-mail address'
    WHEN regexp_matches(value, '(?i)([a-z]:[\\/]users[\\/][^\\/ ]+|/home/[^/ ]+|/users/[^/ ]+)') THEN 'a home folder'
    ELSE 'a serial number' END AS detail
  FROM handed.texts
  WHERE column_name NOT IN ('title_build', 'firmware_version', 'driver_version', 'card_firmware_version', 'os', 'os_build')
    AND (regexp_matches(value, '[A-Za-z0-9._%+-]+@[A-Za-z0-9-]+([.][A-Za-z0-9-]+)+')
    OR regexp_matches(value, '(?i)([a-z]:[\\/]users[\\/][^\\/ ]+|/home/[^/ ]+|/users/[^/ ]+)')
    OR regexp_matches(value, '(?i)(\b(s/n|serial( number| no[.]?)?)\s*[:=#]?\s*[a-z0-9-]{6,}|\b[A-Z0-9]{4,}[0-9]{6,}\b)'))
) AS t JOIN handed.text_cells AS c USING (_table, column_name, value)
