-- The comparisons as the page shows them, names beside ids.
SELECT
    comparisons.metric, comparisons.unit, comparisons.contrast, comparisons.from_level,
    comparisons.to_level, workloads.title AS title, comparisons.workload, comparisons.resolution,
    comparisons.rig, cards.model AS card_model, platforms.processor AS processor,
    comparisons.from_value, comparisons.to_value, comparisons.from_runs, comparisons.to_runs,
    comparisons.change_pct, comparisons.low_95_pct, comparisons.high_95_pct,
    comparisons.direction, comparisons.size, comparisons.no_verdict, comparisons.confounded_by,
    comparisons.sessions, comparisons.one_session, comparisons.current, comparisons.stale
FROM comparisons
JOIN workloads USING (workload)
JOIN cards ON cards.card = comparisons.card
JOIN platforms ON platforms.platform = comparisons.platform
ORDER BY comparisons.metric, comparisons.contrast, workloads.title, comparisons.workload,
         comparisons.resolution, comparisons.rig, comparisons.stack, comparisons.title_build
