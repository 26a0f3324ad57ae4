-- What was tested for an influence on the change, and what came out.
SELECT contributor, workload, resolution, contrast, metric, factor, extent_pct,
       extent_low_95_pct, extent_high_95_pct, depends, "where" AS place, not_estimable
FROM factor_effects
ORDER BY metric, contrast, workload, resolution, contributor, factor
