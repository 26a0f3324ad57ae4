-- The rigs and the models they are made of.
SELECT rigs.rig, rigs.contributor, contributors.shown_name, rigs.platform, rigs.card,
       platforms.processor, platforms.board, platforms.memory_kit, cards.model, cards.class,
       cards.memory_gb, rigs.hardware_from
FROM rigs
JOIN contributors USING (contributor)
JOIN platforms USING (platform)
JOIN cards USING (card)
ORDER BY rigs.rig
