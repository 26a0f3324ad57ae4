-- One row a run: whether it was aborted, and whether a correction in force excludes it.
SELECT
    runs.run,
    runs.role,
    CASE WHEN EXISTS (
        SELECT 1 FROM corrections
        WHERE corrections.action = 'exclude' AND corrections.status = 'applied'
          AND corrections.metric IS NULL AND corrections.session = runs.session
          AND (corrections.run = runs.run OR corrections.run IS NULL)
    ) THEN 'excluded' ELSE 'kept' END AS kept
FROM runs
ORDER BY runs.run
