-- Corrections of sessions that are left and, where they name a run, of runs that are left.
SELECT * FROM corrections
WHERE session IN (SELECT session FROM sessions)
  AND (run IS NULL OR run IN (SELECT run FROM runs))
