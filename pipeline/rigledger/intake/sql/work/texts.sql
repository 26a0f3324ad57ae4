-- The text cells without repetition: few texts stand in many rows, and what is looked for in them takes its time.
CREATE TABLE handed.texts AS
SELECT DISTINCT 'runs' AS _table, 'level_check' AS column_name, CAST(level_check AS VARCHAR) AS value
FROM (SELECT DISTINCT level_check FROM handed.runs WHERE level_check IS NOT NULL)
UNION ALL SELECT DISTINCT _table, column_name, value FROM handed.text_cells WHERE NOT (_table = 'runs' AND column_name = 'level_check')
