-- Which origin the cells of one rig, stack, workload, build and resolution use, so that levels are compared like with like:
-- recomputed where every run has it, else reported where every run has it, else whichever more runs have.
select
    runs.rig,
    runs.stack,
    runs.workload,
    runs.title_build,
    runs.resolution,
    runs.role,
    run_values.metric,
    case
        when count(*) = count(*) filter (run_values.recomputed > 0) then 'recomputed'
        when count(*) = count(*) filter (run_values.reported > 0) then 'reported'
        when count(*) filter (run_values.recomputed > 0) >= count(*) filter (run_values.reported > 0)
            then 'recomputed'
        else 'reported'
    end as preferred
from work.run_values
join work.runs_in_force as runs using (run)
where runs.role in ('measured', 'sentinel')
group by
    runs.rig, runs.stack, runs.workload, runs.title_build, runs.resolution, runs.role, run_values.metric
