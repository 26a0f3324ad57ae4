-- The rows of each pooling: same platform and card, and any hardware where there is more than one of it.
select
    'same_configuration' as scope, platform, card, false as depends, *
    exclude (platform, card)
from work.contributed

union all by name

select
    'any_hardware' as scope, 'all' as platform, 'all' as card, matters.workload is not null as depends,
    contributed.* exclude (platform, card)
from work.contributed as contributed
left join work.hardware_matters as matters
    on matters.workload = contributed.workload
    and matters.resolution = contributed.resolution
    and matters.contrast = contributed.contrast
    and matters.metric = contributed.metric
qualify count(distinct (contributed.platform, contributed.card)) over (
    partition by contributed.workload, contributed.resolution, contributed.contrast, contributed.metric
) > 1
