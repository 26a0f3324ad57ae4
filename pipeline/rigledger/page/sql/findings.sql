-- What the rules said about the sets.
SELECT set_id, severity, rule, file, "row" AS line, "column" AS place, value, reason, waived
FROM findings
ORDER BY ALL
