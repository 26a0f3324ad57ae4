-- How many rows of each table were added, removed or changed.
SELECT "table" AS name,
       count(DISTINCT key) FILTER (change = 'added') AS added,
       count(DISTINCT key) FILTER (change = 'removed') AS removed,
       count(DISTINCT key) FILTER (change NOT IN ('added', 'removed')) AS changed
FROM changes
GROUP BY "table"
ORDER BY "table"
