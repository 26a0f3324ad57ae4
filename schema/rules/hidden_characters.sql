SELECT c._table, c._row, c.column_name, c.value, NULL AS detail
FROM (
  FROM handed.texts
  WHERE column_name <> 'capture_file'
    AND regexp_matches(value, '[^[:ascii:]]|[\x00-\x08\x0b-\x1f\x7f]')
    AND regexp_matches(value, '[\p{Cf}\p{Co}\p{Zl}\p{Zp}\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x{9f}]')
) AS t JOIN handed.text_cells AS c USING (_table, column_name, value)
