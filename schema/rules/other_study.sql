SELECT s._row, 'study' AS column_name, s.study AS value, 'this is the study ' || g.study || ', the set names ' || s.study AS detail
FROM handed.set AS s, study.settings AS g
WHERE s.study <> g.study
