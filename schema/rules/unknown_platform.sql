SELECT t._row, 'platform' AS column_name, t.platform AS value, 'the study has no platform ' || t.platform AS detail
FROM handed.rigs AS t
ANTI JOIN study.platforms AS known ON t.platform = known.platform
WHERE t.platform IS NOT NULL
