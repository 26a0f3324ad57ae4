-- Rigs of the sessions that are left.
SELECT * FROM rigs WHERE rig IN (SELECT rig FROM sessions)
