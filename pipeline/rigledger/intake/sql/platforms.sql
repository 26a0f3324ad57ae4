-- Platform models that the set proposes and the study doesn't list yet.
SELECT platform, family, processor, board, memory_kit
FROM handed.platforms
WHERE platform NOT IN (SELECT platform FROM main.platforms)
