WITH stated AS (
  UNPIVOT (SELECT _row, rig, platform, card, platform_unit, card_unit FROM handed.rigs)
  ON platform, card, platform_unit, card_unit INTO NAME column_name VALUE value
), earlier AS (
  UNPIVOT (SELECT a.rig, a.set_id, a.platform, a.card, a.platform_unit, a.card_unit
           FROM admitted.rigs AS a JOIN handed.set AS h ON a.contributor = h.contributor)
  ON platform, card, platform_unit, card_unit INTO NAME column_name VALUE value
)
SELECT s._row, s.column_name, s.value, 'rig ' || s.rig || ' has ' || e.value || ' in the set ' || e.set_id AS detail
FROM stated AS s JOIN earlier AS e ON e.rig = s.rig AND e.column_name = s.column_name
WHERE s.value <> e.value AND s.value <> 'unknown' AND e.value <> 'unknown'
