-- Geometric-mean changes over named sets of titles.
select
    rig, resolution, contrast, metric, title_set, contributor, platform, card, titles, titles_missing,
    change_pct, these_low_95_pct, these_high_95_pct, titles_used
from overall
order by rig, resolution, contrast, metric, title_set
