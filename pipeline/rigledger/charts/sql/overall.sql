-- The change over named sets of titles.
SELECT
    overall.contributor, overall.rig, overall.platform, overall.card, cards.model AS card_model,
    overall.resolution, overall.contrast, overall.metric, overall.title_set, overall.titles,
    overall.titles_missing, overall.stacks, overall.change_pct, overall.these_low_95_pct,
    overall.these_high_95_pct, overall.like_these_low_95_pct, overall.like_these_high_95_pct
FROM overall
JOIN cards ON cards.card = overall.card
WHERE overall.change_pct IS NOT NULL
ORDER BY overall.contrast, overall.metric, overall.title_set,
         CAST(split_part(overall.resolution, 'x', 1) AS INTEGER),
         CAST(split_part(overall.resolution, 'x', 2) AS INTEGER),
         overall.platform, cards.model, overall.rig
