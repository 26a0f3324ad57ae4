-- A rig that sessions name too is named there already, by its reference to rigs.
SELECT r._row, 'rig' AS column_name, r.rig AS value, 'rigs has no rig ' || r.rig AS detail
FROM handed.runs AS r
ANTI JOIN handed.rigs AS known ON r.rig = known.rig
ANTI JOIN handed.sessions AS named ON r.rig = named.rig
WHERE r.rig IS NOT NULL
