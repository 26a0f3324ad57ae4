-- Six or more contributors with the same configuration, workload and stack family: h and k apply (ISO 5725-2, ASTM E691).
select platform, card, workload, resolution, contrast, metric, stack_family
from work.contributed
where usable and stack_family is not null and spread_pct is not null
group by platform, card, workload, resolution, contrast, metric, stack_family
having count(distinct counted_as) >= 6
