-- Stacks of the sessions that are left.
SELECT * FROM stacks WHERE stack IN (SELECT stack FROM sessions)
