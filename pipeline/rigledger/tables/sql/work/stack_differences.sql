-- What differs between two stacks of one contributor, as a list of column names.
select
    one.stack as from_stack,
    other.stack as to_stack,
    list_filter([
        case when one.firmware_version <> other.firmware_version then 'firmware_version' end,
        case when one.driver_version <> other.driver_version then 'driver_version' end,
        case
            when one.card_firmware_version <> other.card_firmware_version then 'card_firmware_version'
        end,
        case when one.os <> other.os then 'os' end,
        case when one.os_build <> other.os_build then 'os_build' end,
        case
            when one.memory_speed_mts is distinct from other.memory_speed_mts then 'memory_speed_mts'
        end,
        case when one.profile <> other.profile then 'profile' end
    ], lambda x: x is not null) as fields
from stacks as one
join stacks as other using (contributor)
