SELECT _table, _row, column_name, value, 'the text starts with ' || value[1] || ', as formulas do' AS detail
FROM handed.text_cells
WHERE column_name NOT IN ('capture_file', 'notes') AND value IN (
  SELECT value
  FROM handed.texts
  WHERE value[1] IN ('=', '+', '-', '@', chr(9), chr(13)) AND NOT regexp_full_match(value, '[-+]?[0-9]+([.][0-9]+)?')
)
