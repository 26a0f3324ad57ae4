-- The current comparisons of the chosen workloads, metrics and contrasts, names beside ids.
SELECT
    comparisons.contributor, comparisons.rig, comparisons.platform, comparisons.card,
    cards.model AS card_model, comparisons.workload, workloads.title AS title,
    comparisons.resolution, comparisons.contrast, comparisons.metric, comparisons.from_level,
    comparisons.to_level, comparisons.from_value, comparisons.to_value, comparisons.unit,
    comparisons.change_pct, comparisons.low_95_pct, comparisons.high_95_pct,
    comparisons.direction, comparisons.size, comparisons.no_verdict, comparisons.stale
FROM comparisons
JOIN chart_workloads AS workloads USING (workload)
JOIN cards ON cards.card = comparisons.card
WHERE comparisons.current AND comparisons.change_pct IS NOT NULL
ORDER BY comparisons.contrast, comparisons.metric, workloads.title, comparisons.workload,
         comparisons.platform, cards.model, comparisons.rig,
         CAST(split_part(comparisons.resolution, 'x', 1) AS INTEGER),
         CAST(split_part(comparisons.resolution, 'x', 2) AS INTEGER)
