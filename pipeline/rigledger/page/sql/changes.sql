-- How many rows of each table were added, removed or changed; a changed row is listed by field.
SELECT "table" AS name,
       count(*) FILTER (change = 'added') AS added,
       count(*) FILTER (change = 'removed') AS removed,
       count(DISTINCT key) FILTER (change NOT IN ('added', 'removed')) AS changed
FROM changes
GROUP BY "table"
ORDER BY "table"
