-- Names that count as one contributor, and why.
SELECT string_agg(contributor, ', ' ORDER BY contributor) AS names, any_value(because) AS because
FROM counted_as_one
WHERE names > 1
GROUP BY counted_as
ORDER BY counted_as
