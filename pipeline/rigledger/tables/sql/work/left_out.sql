-- Measured runs that have no value of their cell's origin and so do not count in it.
select rig, stack, workload, title_build, resolution, level, metric, count(*) as runs
from work.candidates
where role = 'measured' and value is null
group by rig, stack, workload, title_build, resolution, level, metric
