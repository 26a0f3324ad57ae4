-- What a change was found to depend on, by contrast and metric.
SELECT
    factor_effects.contrast,
    factor_effects.metric,
    list(DISTINCT workloads.title ORDER BY workloads.title) AS titles,
    list(DISTINCT factor_effects.factor ORDER BY factor_effects.factor) AS factors
FROM factor_effects
JOIN workloads ON workloads.workload = factor_effects.workload
WHERE factor_effects.depends
GROUP BY ALL
ORDER BY factor_effects.contrast, factor_effects.metric
