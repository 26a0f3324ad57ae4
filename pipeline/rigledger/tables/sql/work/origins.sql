-- Which origin the cells that differ in the level alone use, so that levels are compared like with like: recomputed where
-- every run has it, else reported where every run has it, else whichever more runs have.
select
    trials.alike,
    run_values.metric,
    case
        when count(*) = count(*) filter (run_values.recomputed > 0) then 'recomputed'
        when count(*) = count(*) filter (run_values.reported > 0) then 'reported'
        when count(*) filter (run_values.recomputed > 0) >= count(*) filter (run_values.reported > 0)
            then 'recomputed'
        else 'reported'
    end as preferred
from work.run_values
join work.trials using (run)
group by trials.alike, run_values.metric
