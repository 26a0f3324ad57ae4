-- Card models that the set proposes and the study doesn't list yet.
SELECT card, model, class, memory_gb
FROM handed.cards
WHERE card NOT IN (SELECT card FROM main.cards)
