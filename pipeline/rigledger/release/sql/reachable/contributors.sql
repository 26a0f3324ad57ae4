-- Contributors of the sets, rigs and stacks that are left.
SELECT * FROM contributors
WHERE contributor IN (
    SELECT contributor FROM sets UNION SELECT contributor FROM rigs UNION SELECT contributor FROM stacks
)
