-- Sets that may be published on the day of the release. Withdrawn and superseded sets keep their
-- row; no row names a set under embargo.
WITH open_sets AS (
    SELECT * FROM sets WHERE embargo_until IS NULL OR embargo_until <= CAST($released_on AS DATE)
), closed_sets AS (
    SELECT set_id FROM sets WHERE embargo_until > CAST($released_on AS DATE)
)
SELECT * REPLACE (
    CASE WHEN supersedes IN (SELECT set_id FROM open_sets) THEN supersedes END AS supersedes,
    CASE WHEN EXISTS (SELECT 1 FROM closed_sets WHERE contains(reason, closed_sets.set_id))
         THEN 'superseded by a set that is not published yet'
         ELSE reason
    END AS reason
)
FROM open_sets
