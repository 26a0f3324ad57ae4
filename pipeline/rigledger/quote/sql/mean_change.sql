-- The change over a named set of titles on each rig, with the interval for these titles.
select
    overall.rig, overall.contributor, overall.platform, overall.card, overall.resolution,
    overall.contrast, overall.metric, overall.title_set, overall.change_pct as value,
    overall.these_low_95_pct as low, overall.these_high_95_pct as high, '%' as unit,
    metrics.direction as better, overall.titles, overall.titles_missing, true as current
from overall
join metrics using (metric)
order by overall.rig, overall.resolution, overall.contrast, overall.metric, overall.title_set
