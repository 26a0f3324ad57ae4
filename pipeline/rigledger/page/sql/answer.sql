-- One row per contrast and metric: how many comparisons say what, and the range of the changes.
SELECT
    comparisons.contrast,
    comparisons.metric,
    metrics.title AS metric_title,
    from_levels.title AS from_title,
    to_levels.title AS to_title,
    count(*) AS comparisons,
    count(DISTINCT comparisons.rig) AS rigs,
    count(DISTINCT comparisons.workload) AS workloads,
    count(DISTINCT comparisons.contributor) AS contributors,
    count(*) FILTER (no_verdict IS NULL AND comparisons.direction = 'gain' AND size = 'material') AS gains,
    count(*) FILTER (no_verdict IS NULL AND comparisons.direction = 'loss' AND size = 'material') AS losses,
    count(*) FILTER (no_verdict IS NULL AND size = 'immaterial') AS immaterial,
    count(*) FILTER (no_verdict IS NOT NULL) AS without_verdict,
    min(change_pct) FILTER (no_verdict IS NULL) AS least_pct,
    max(change_pct) FILTER (no_verdict IS NULL) AS most_pct
FROM comparisons
JOIN metrics ON metrics.metric = comparisons.metric
JOIN levels AS from_levels ON from_levels.level = comparisons.from_level
JOIN levels AS to_levels ON to_levels.level = comparisons.to_level
WHERE comparisons.current
GROUP BY ALL
ORDER BY comparisons.contrast, comparisons.metric
