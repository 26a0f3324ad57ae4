-- What a change was found to depend on.
SELECT workload, resolution, contrast, metric, factor, extent_pct, "where" AS place
FROM factor_effects
WHERE depends
ORDER BY metric, contrast, extent_pct DESC NULLS LAST, workload, resolution, factor
