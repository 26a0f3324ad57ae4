SELECT s._row, 'licence' AS column_name, s.licence AS value, 'the study asks for ' || g.licence AS detail
FROM handed.set AS s, study.settings AS g
WHERE s.licence <> g.licence
