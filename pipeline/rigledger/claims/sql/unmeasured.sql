-- What the study asks for and can't compare: planned at both levels of a contrast, with no comparison.
with planned as (
    select rig, workload, resolution, level, metric, contributor, platform, card,
        max(runs) as runs, max(no_partner) as no_partner
    from cells
    where planned
    group by all
)

select
    one.rig, one.workload, one.resolution, contrasts.contrast, one.metric, one.contributor, one.platform, one.card,
    case
        when least(one.runs, other.runs) = 0 then 'not_measured'
        else coalesce(one.no_partner, other.no_partner, 'not_measured')
    end as why
from contrasts
join planned as one on one.level = contrasts.from_level
join planned as other
    on other.level = contrasts.to_level
    and other.rig = one.rig
    and other.workload = one.workload
    and other.resolution = one.resolution
    and other.metric = one.metric
where not exists (
    select 1
    from comparisons
    where comparisons.rig = one.rig
        and comparisons.workload = one.workload
        and comparisons.resolution = one.resolution
        and comparisons.contrast = contrasts.contrast
        and comparisons.metric = one.metric
)
order by one.rig, one.workload, one.resolution, contrasts.contrast, one.metric
