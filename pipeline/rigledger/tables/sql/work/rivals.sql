-- Pairs of rigs of the same platform and card models by contributors that don't count as one, unless h and k judge them.
select
    one.platform, one.card, one.workload, one.resolution, one.contrast, one.metric,
    one.rig, one.contributor, one.counted_as, other.rig as against,
    case when one.stack_family = other.stack_family then one.stack_family end as stack_family,
    nullif(array_to_string(list_filter([
        case when one.firmware_version <> other.firmware_version or one.firmware_version = 'unknown' then 'firmware_version' end,
        case when one.driver_version <> other.driver_version or one.driver_version = 'unknown' then 'driver_version' end,
        case
            when one.card_firmware_version <> other.card_firmware_version or one.card_firmware_version = 'unknown' then 'card_firmware_version'
        end,
        case when one.os <> other.os or one.os = 'unknown' then 'os' end,
        case when one.os_build <> other.os_build or one.os_build = 'unknown' then 'os_build' end,
        case
            when one.memory_speed_mts is distinct from other.memory_speed_mts then 'memory_speed_mts'
        end,
        case when one.profile <> other.profile or one.profile = 'unknown' then 'profile' end,
        case when one.title_build <> other.title_build or one.title_build = 'unknown' then 'title_build' end
    ], lambda x: x is not null), ', '), '') as differs_in,
    one.ln_change, one.ln_half_90, one.ln_half_95,
    other.ln_change as other_ln_change,
    other.ln_half_90 as other_ln_half_90,
    other.ln_half_95 as other_ln_half_95
from work.contributed as one
join work.contributed as other
    on other.platform = one.platform
    and other.card = one.card
    and other.workload = one.workload
    and other.resolution = one.resolution
    and other.contrast = one.contrast
    and other.metric = one.metric
    and other.counted_as <> one.counted_as
    and other.rig > one.rig
anti join work.many_enough as many
    on many.platform = one.platform
    and many.card = one.card
    and many.workload = one.workload
    and many.resolution = one.resolution
    and many.contrast = one.contrast
    and many.metric = one.metric
    and many.stack_family = one.stack_family
    and many.stack_family = other.stack_family
where one.usable and other.usable
