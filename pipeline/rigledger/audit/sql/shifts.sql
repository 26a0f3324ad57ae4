-- Shifts of one metric, with the versions of both stacks.
select
    shifts.rig,
    shifts.workload,
    shifts.resolution,
    shifts.level,
    shifts.contrast,
    shifts.from_stack,
    shifts.to_stack,
    shifts.from_build,
    shifts.to_build,
    shifts.changed,
    shifts.from_change_pct,
    shifts.to_change_pct,
    shifts.shift_pct,
    shifts.low_95_pct,
    shifts.high_95_pct,
    shifts.p,
    shifts.q,
    shifts.moved,
    shifts.no_verdict,
    shifts.confounded_by,
    to_json(earlier) as from_versions,
    to_json(later) as to_versions
from stack_shift as shifts
join stacks as earlier on earlier.stack = shifts.from_stack
join stacks as later on later.stack = shifts.to_stack
where shifts.metric = $metric
order by
    shifts.rig, shifts.workload, shifts.resolution, shifts.level, shifts.contrast,
    shifts.from_stack, shifts.to_stack, shifts.from_build, shifts.to_build
