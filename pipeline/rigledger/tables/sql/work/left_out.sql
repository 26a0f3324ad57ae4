-- Measured runs that have no value of their cell's origin and so do not count in it.
select metric, tried, runs - usable as runs
from work.origins
where runs > usable
