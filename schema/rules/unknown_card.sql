SELECT t._row, 'card' AS column_name, t.card AS value, 'the study has no card ' || t.card AS detail
FROM handed.rigs AS t
ANTI JOIN study.cards AS known ON t.card = known.card
WHERE t.card IS NOT NULL
