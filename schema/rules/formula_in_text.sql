SELECT c._table, c._row, c.column_name, c.value, 'the text starts with ' || c.value[1] || ', as formulas do' AS detail
FROM (
  FROM handed.texts
  WHERE column_name NOT IN ('capture_file', 'notes')
    AND value[1] IN ('=', '+', '-', '@', chr(9), chr(13))
    AND NOT regexp_full_match(value, '[-+]?[0-9]+([.][0-9]+)?')
) AS t JOIN handed.text_cells AS c USING (_table, column_name, value)
