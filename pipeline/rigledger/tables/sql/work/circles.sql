-- The rows of each comparison by h, k and robust z.
select contributed.*
from work.contributed as contributed
join work.many_enough
    using (platform, card, workload, resolution, contrast, metric, stack_family)
where contributed.usable and contributed.spread_pct is not null
