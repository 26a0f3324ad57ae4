-- One row per cell that was tried in a measured or sentinel run, numbered; `alike` numbers the cells that differ in the
-- level alone. The setting can't act on a sentinel: its runs at all levels are one cell.
with cells as (
    select distinct
        contributor, role, rig, stack, workload, title_build, resolution,
        case role when 'sentinel' then 'any' else level end as level
    from work.runs_in_force
    where role in ('measured', 'sentinel')
)

select
    *,
    row_number() over (
        order by contributor, role, rig, stack, workload, title_build, resolution, level
    ) as tried,
    dense_rank() over (
        order by contributor, role, rig, stack, workload, title_build, resolution
    ) as alike
from cells
