-- How many rows of each table were added, removed or changed; a changed row is listed by field.
WITH counted AS (
    SELECT "table",
           count(*) FILTER (change = 'added') AS added,
           count(*) FILTER (change = 'removed') AS removed
    FROM changes
    GROUP BY "table"
), differing AS (
    SELECT "table", count(DISTINCT key) AS changed
    FROM changes
    WHERE change NOT IN ('added', 'removed')
    GROUP BY "table"
)
SELECT "table" AS name, added, removed, coalesce(changed, 0) AS changed
FROM counted
LEFT JOIN differing USING ("table")
ORDER BY "table"
