-- On what each change depends.
select
    contributor, workload, resolution, contrast, metric, factor,
    extent_pct, extent_low_95_pct, extent_high_95_pct, p, q, depends, "where" as place, not_estimable
from factor_effects
order by contributor, workload, resolution, contrast, metric, factor
