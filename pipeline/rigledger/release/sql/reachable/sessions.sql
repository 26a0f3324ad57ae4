-- Sessions of sets in force.
SELECT * FROM sessions WHERE set_id IN (SELECT set_id FROM sets WHERE state = 'admitted')
