-- Where the change was tested for what it depends on.
SELECT contributor, workload, resolution, contrast, metric, factor, depends, q
FROM factor_effects
WHERE not_estimable IS NULL
ORDER BY contributor, workload, resolution, contrast, metric, factor
