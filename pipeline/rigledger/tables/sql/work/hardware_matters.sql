-- Where some contributor's rigs show that the change depends on platform, card or the two together.
select distinct workload, resolution, contrast, metric
from work.factor_statistics
where depends
