SELECT s._row, 'session' AS column_name, s.session AS value, 'session ' || s.session || ' of rig ' || s.rig || ' has no sentinel run' AS detail
FROM handed.sessions AS s
ANTI JOIN handed.runs AS r ON s.rig = r.rig AND s.session = r.session AND r.role = 'sentinel'
SEMI JOIN handed.runs AS any_run ON s.rig = any_run.rig AND s.session = any_run.session
WHERE EXISTS (FROM study.sentinels)
