-- One row per rig, resolution, contrast, metric and named set of titles. The geometric mean is the only mean of ratios
-- that doesn't depend on which side is the reference (Fleming and Wallace 1986, Commun ACM 29(3):218-221).
with counted as (
    select
        rig, resolution, contrast, metric, title_set,
        count(ln_change) as titles,
        count(*) - count(ln_change) as titles_missing,
        count(distinct stack) as stacks,
        string_agg(workload, ' ' order by workload) filter (ln_change is not null) as titles_used
    from work.title_set_rows
    group by rig, resolution, contrast, metric, title_set
)

select
    counted.rig,
    counted.resolution,
    counted.contrast,
    counted.metric,
    counted.title_set,
    rigs.contributor,
    rigs.platform,
    rigs.card,
    counted.titles,
    counted.titles_missing,
    counted.stacks,
    means.change_pct,
    means.these_low_95_pct,
    means.these_high_95_pct,
    means.like_these_low_95_pct,
    means.like_these_high_95_pct,
    counted.titles_used
from counted
join rigs using (rig)
left join work.overall_statistics as means using (rig, resolution, contrast, metric, title_set)
