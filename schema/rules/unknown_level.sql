SELECT t._row, 'level' AS column_name, t.level AS value, 'the study has no level ' || t.level AS detail
FROM handed.runs AS t
ANTI JOIN study.levels AS known ON t.level = known.level
WHERE t.level IS NOT NULL
