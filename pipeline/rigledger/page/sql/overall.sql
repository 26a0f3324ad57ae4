-- The mean change over named sets of titles.
SELECT rig, resolution, contrast, metric, title_set, titles, titles_missing, stacks, change_pct,
       these_low_95_pct, these_high_95_pct
FROM overall
ORDER BY metric, contrast, title_set, resolution, rig
