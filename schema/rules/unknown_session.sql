SELECT r._row, 'session' AS column_name, r.session AS value, 'sessions has no session ' || r.session || ' of rig ' || r.rig AS detail
FROM handed.runs AS r
ANTI JOIN handed.sessions AS known ON r.rig = known.rig AND r.session = known.session
SEMI JOIN handed.rigs AS rig ON r.rig = rig.rig
WHERE r.session IS NOT NULL
