-- The change over contributors, with the interval of one more contributor like these.
select
    scope, platform, card, workload, resolution, contrast, metric, contributors, names, rigs, rigs_left_out, counted,
    differs_in, change_pct, low_95_pct, high_95_pct, like_these_low_95_pct, like_these_high_95_pct, between_pct,
    not_pooled
from work.pooled
