SELECT max(_row) AS _row, 'platform_unit' AS column_name, platform_unit AS value,
  platform_unit || ' is given as ' || string_agg(DISTINCT platform, ' and ' ORDER BY platform) AS detail
FROM handed.rigs WHERE platform_unit <> 'unknown'
GROUP BY platform_unit HAVING count(DISTINCT platform) > 1
UNION ALL
SELECT max(_row), 'card_unit', card_unit, card_unit || ' is given as ' || string_agg(DISTINCT card, ' and ' ORDER BY card)
FROM handed.rigs WHERE card_unit <> 'unknown'
GROUP BY card_unit HAVING count(DISTINCT card) > 1
