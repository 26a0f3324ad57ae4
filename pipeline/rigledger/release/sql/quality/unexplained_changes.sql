-- Measured values that differ from the earlier release, and whether a correction or another set explains it.
SELECT changes.key,
       CASE WHEN changes.because IS NULL THEN 'unexplained' ELSE 'corrected' END AS explained
FROM changes
WHERE changes."table" = 'measurements' AND changes.change = 'changed'
ORDER BY changes.key, changes.field
