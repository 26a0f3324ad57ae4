-- Rows of the sessions that are left.
SELECT * FROM runs WHERE session IN (SELECT session FROM sessions)
