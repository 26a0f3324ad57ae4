-- Pairs to be held against each other: a cell (or comparison) on one stack and on the next stack on which it was measured.
-- Builds are joined over: the latest build that both stacks have, else the last of the earlier stack and the first of the
-- later one. Where a stack holds several builds of a title, each is also held against the one before.
with placed as (
    select
        *,
        dense_rank() over (place order by stack_boot, stack) as step,
        row_number() over (
            partition by kind, contributor, metric, rig, workload, resolution, level, contrast, stack
            order by last_boot, last_position, title_build
        ) as build_step
    from work.shift_things
    window place as (
        partition by kind, contributor, metric, rig, workload, resolution, level, contrast
    )
),

joined as (
    select
        kind, contributor, metric, rig, workload, resolution, level, contrast,
        earlier.stack as from_stack,
        later.stack as to_stack,
        earlier.title_build as from_build,
        later.title_build as to_build,
        earlier.number as before,
        later.number as after,
        later.step - earlier.step as steps,
        later.build_step - earlier.build_step as build_steps,
        row_number() over (
            partition by
                kind, contributor, metric, rig, workload, resolution, level, contrast,
                earlier.stack, later.stack
            order by
                earlier.title_build = later.title_build desc, earlier.build_step desc, later.build_step
        ) as choice
    from placed as earlier
    join placed as later
        using (kind, contributor, metric, rig, workload, resolution, level, contrast)
    where later.step - earlier.step in (0, 1)
)

select
    * exclude (steps, build_steps, choice),
    row_number() over (
        partition by contributor, metric, kind
        order by rig, workload, resolution, level, contrast, from_stack, to_stack, from_build, to_build
    ) - 1 as shift
from joined
where (steps = 1 and choice = 1) or (steps = 0 and build_steps = 1)
