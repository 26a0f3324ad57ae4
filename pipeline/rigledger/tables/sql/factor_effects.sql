-- On what the change depends, one row per factor. q is the false discovery rate of Benjamini and Hochberg (1995) over one
-- metric, contrast and factor.
with ranked as (
    select
        contributor, workload, resolution, contrast, metric, factor,
        p * count(*) over family
            / row_number() over (family order by p, contributor, workload, resolution) as stepped,
        row_number() over (family order by p, contributor, workload, resolution) as place
    from work.factor_statistics
    where p is not null
    window family as (partition by metric, contrast, factor)
),

discoveries as (
    select
        * exclude (stepped, place),
        min(stepped) over (
            partition by metric, contrast, factor order by place desc rows unbounded preceding
        ) as q
    from ranked
)

select
    statistics.contributor,
    statistics.workload,
    statistics.resolution,
    statistics.contrast,
    statistics.metric,
    statistics.factor,
    statistics.rigs,
    statistics.platforms,
    statistics.cards,
    statistics.extent_pct,
    statistics.extent_low_95_pct,
    statistics.extent_high_95_pct,
    statistics.p,
    discoveries.q,
    coalesce(statistics.depends, false) as depends,
    statistics."where",
    statistics.not_estimable
from work.factor_statistics as statistics
left join discoveries using (contributor, workload, resolution, contrast, metric, factor)
