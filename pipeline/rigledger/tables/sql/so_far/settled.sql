-- The current comparisons of one contributor, counted by metric and verdict.
select
    metric,
    count(*) as comparisons,
    count(*) filter (size = 'material' and direction = 'loss') as losses,
    count(*) filter (size = 'material' and direction = 'gain') as gains,
    count(*) filter (size = 'immaterial') as immaterial,
    count(*) filter (size = 'unsettled') as unsettled,
    count(*) filter (no_verdict is not null) as no_verdict
from comparisons
where contributor = ? and current
group by metric
order by metric
