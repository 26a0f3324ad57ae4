-- Measured values that differ from the earlier release although no correction names their run.
SELECT changes.key,
       CASE WHEN EXISTS (
           SELECT 1 FROM corrections JOIN runs USING (session)
           WHERE corrections.status = 'applied'
             AND (corrections.run = runs.run OR corrections.run IS NULL)
             AND starts_with(changes.key, 'run=' || runs.run || ' ')
       ) THEN 'corrected' ELSE 'unexplained' END AS explained
FROM changes
WHERE changes."table" = 'measurements' AND changes.change = 'changed'
ORDER BY changes.key, changes.field
