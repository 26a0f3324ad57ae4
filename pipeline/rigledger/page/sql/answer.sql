-- One row per contrast and metric: how many comparisons say what, where the material ones are, and the range.
WITH judged AS (
    SELECT
        comparisons.*,
        workloads.title,
        no_verdict IS NULL AND direction = 'gain' AND size = 'material' AS gained,
        no_verdict IS NULL AND direction = 'loss' AND size = 'material' AS lost
    FROM comparisons
    JOIN workloads ON workloads.workload = comparisons.workload
    WHERE comparisons.current
)
SELECT
    judged.contrast,
    judged.metric,
    metrics.title AS metric_title,
    from_levels.title AS from_title,
    to_levels.title AS to_title,
    count(*) AS comparisons,
    count(DISTINCT judged.rig) AS rigs,
    count(DISTINCT judged.workload) AS workloads,
    count(*) FILTER (gained) AS gains,
    count(*) FILTER (lost) AS losses,
    coalesce(list(DISTINCT judged.title ORDER BY judged.title) FILTER (gained), []) AS gain_titles,
    coalesce(list(DISTINCT judged.title ORDER BY judged.title) FILTER (lost), []) AS loss_titles,
    count(*) FILTER (no_verdict IS NULL AND size = 'immaterial') AS immaterial,
    count(*) FILTER (no_verdict IS NOT NULL) AS without_verdict,
    min(change_pct) FILTER (no_verdict IS NULL) AS least_pct,
    max(change_pct) FILTER (no_verdict IS NULL) AS most_pct
FROM judged
JOIN metrics ON metrics.metric = judged.metric
JOIN levels AS from_levels ON from_levels.level = judged.from_level
JOIN levels AS to_levels ON to_levels.level = judged.to_level
GROUP BY ALL
ORDER BY judged.contrast, judged.metric
