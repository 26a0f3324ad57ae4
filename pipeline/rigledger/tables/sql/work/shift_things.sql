-- What may have moved when a stack or a title's build changed: the level of each measured cell, and the setting's effect (a
-- comparison), each with the first boot of its stack on the rig, which orders the rig's stacks.
with line as (
    select rig, stack, min(boot) as stack_boot
    from work.runs_in_force
    where role = 'measured'
    group by rig, stack
)

select
    'cell' as kind, cells.contributor, cells.metric, cells.rig, cells.workload, cells.resolution, cells.level,
    'none' as contrast, cells.stack, cells.title_build, cells.cell as number, line.stack_boot,
    cells.last_boot, cells.last_position
from work.measured_cells as cells
join line on line.rig = cells.rig and line.stack = cells.stack
union all
select
    'effect' as kind, pairs.contributor, pairs.metric, pairs.rig, pairs.workload, pairs.resolution, 'effect' as level,
    pairs.contrast, pairs.stack, pairs.title_build, pairs.pair as number, line.stack_boot,
    pairs.last_boot, pairs.last_position
from work.pairs
join line on line.rig = pairs.rig and line.stack = pairs.stack
where pairs.from_origin = pairs.to_origin
