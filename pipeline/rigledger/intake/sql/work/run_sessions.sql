-- The sessions that runs name, whether or not the set has them: their runs, whether any of them is a sentinel, and whether all values
-- of a metric are whole numbers there.
CREATE TABLE handed.run_sessions AS
SELECT rig, session, count(*) AS runs, bool_or(role = 'sentinel') AS sentinels, $whole AS whole
FROM handed.runs
GROUP BY rig, session
