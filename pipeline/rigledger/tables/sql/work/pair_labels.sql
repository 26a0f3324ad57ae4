-- One row per comparison that the statistics can take: both sides have values of one origin.
select contributor, metric, pair, from_cell, to_cell
from work.pairs
where from_origin = to_origin
