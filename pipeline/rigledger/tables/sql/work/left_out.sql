-- Measured runs that have no value of their cell's origin and so do not count in it.
select metric, tried, count(*) as runs
from work.candidates
where value is null
group by metric, tried
