-- The measured runs, to be counted.
select
    run, session, rig, contributor, platform, card, workload, title, resolution, level, stack,
    title_build
from runs_wide
where role = 'measured'
order by run
