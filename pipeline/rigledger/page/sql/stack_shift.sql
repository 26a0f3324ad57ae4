-- What moved after a stack or a title's build changed.
SELECT rig, workload, resolution, level, contrast, metric, changed, shift_pct, low_95_pct,
       high_95_pct, direction, size, no_verdict, moved
FROM stack_shift
ORDER BY metric, workload, resolution, rig, level, contrast, from_stack, to_stack, from_build, to_build
