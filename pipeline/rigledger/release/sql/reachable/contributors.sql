-- Contributors of the sets, rigs and stacks that are left; a relation to one who is not among them is left out.
WITH reached AS (
    SELECT contributor FROM sets UNION SELECT contributor FROM rigs UNION SELECT contributor FROM stacks
)
SELECT * REPLACE (
    CASE WHEN related_to IN (SELECT contributor FROM reached) THEN related_to END AS related_to
)
FROM contributors
WHERE contributor IN (SELECT contributor FROM reached)
