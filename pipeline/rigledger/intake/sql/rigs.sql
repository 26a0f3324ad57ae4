-- The contributor's name goes in front of the rig's.
SELECT s.contributor || '.' || r.rig AS rig, s.contributor, r.platform, r.card, r.platform_unit, r.card_unit, r.hardware_from
FROM handed.rigs AS r, handed.set AS s
