-- Rows of the sessions that are left.
SELECT * FROM facts WHERE session IN (SELECT session FROM sessions)
