-- The cells' own values; of two stacks or builds, the one that the latest comparison used, else the one with more runs.
select
    rig, stack, workload, title_build, resolution, level, metric, contributor, platform, card, unit,
    geometric_mean, low_95, high_95, sessions
from cells
where geometric_mean is not null and low_95 is not null
qualify row_number() over (
    partition by rig, workload, resolution, level, metric
    order by no_partner is null desc, runs desc, stack, title_build
) = 1
order by rig, workload, resolution, level, metric
