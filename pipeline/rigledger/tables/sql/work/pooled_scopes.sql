-- The rows of each pooling: same platform and card, and any hardware where there is more than one of it.
with hardware as (
    select distinct workload, resolution, contrast, metric, platform, card
    from work.contributed
),

on_several as (
    select workload, resolution, contrast, metric
    from hardware
    group by workload, resolution, contrast, metric
    having count(*) > 1
)

select
    'same_configuration' as scope, platform, card, false as depends,
    contributed.* exclude (platform, card)
from work.contributed as contributed

union all

select
    'any_hardware' as scope, 'all' as platform, 'all' as card, matters.workload is not null as depends,
    contributed.* exclude (platform, card)
from work.contributed as contributed
join on_several
    on on_several.workload = contributed.workload
    and on_several.resolution = contributed.resolution
    and on_several.contrast = contributed.contrast
    and on_several.metric = contributed.metric
left join work.hardware_matters as matters
    on matters.workload = contributed.workload
    and matters.resolution = contributed.resolution
    and matters.contrast = contributed.contrast
    and matters.metric = contributed.metric
