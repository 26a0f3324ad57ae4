-- Names of the study in which a number may stand: none of them is a figure.
select unnest([platform, family, processor, board, memory_kit]) as name from platforms
union
select unnest([card, model]) from cards
union
select unnest([workload, title, preset, graphics_api, passage]) from workloads
union
select unnest([rig, split_part(rig, '.', 2)]) from rigs
union
select unnest([level, title]) from levels
union
select contrast from contrasts
union
select unnest([firmware_version, driver_version, card_firmware_version, os, os_build, profile]) from stacks
union
select unnest([contributor, shown_name]) from contributors
union
select set_id from sets
union
select metric from metrics
union
select unnest([title_build, stack, session]) from runs_wide
order by name
