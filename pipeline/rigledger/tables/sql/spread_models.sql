-- The fitted spread model of each contributor and metric, one row per parameter.
select contributor, metric, parameter, value, basis, model_version, cells
from work.spread_parameters
