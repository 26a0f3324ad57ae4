-- The difference between two rigs of one contributor, each pair in both directions.
with pairs as (
    select
        from_rig, to_rig, workload, resolution, level, metric, contributor, titles, differs_in,
        ln(1 + difference_pct / 100) as ln_difference, ln(1 + low_95_pct / 100) as ln_low,
        ln(1 + high_95_pct / 100) as ln_high
    from rig_comparisons

    union all by name

    select
        to_rig as from_rig, from_rig as to_rig, workload, resolution, level, metric, contributor,
        titles, differs_in, -ln(1 + difference_pct / 100) as ln_difference,
        -ln(1 + high_95_pct / 100) as ln_low, -ln(1 + low_95_pct / 100) as ln_high
    from rig_comparisons
)
select
    pairs.to_rig as rig, pairs.from_rig as against, pairs.contributor, pairs.workload,
    coalesce(workloads.title, 'all shared titles') as title, pairs.resolution, pairs.level,
    pairs.metric, 100 * (exp(pairs.ln_difference) - 1) as value,
    100 * (exp(pairs.ln_low) - 1) as low, 100 * (exp(pairs.ln_high) - 1) as high, '%' as unit,
    metrics.direction as better, pairs.titles, pairs.differs_in, true as current
from pairs
left join workloads using (workload)
join metrics using (metric)
order by pairs.to_rig, pairs.from_rig, pairs.workload, pairs.resolution, pairs.level, pairs.metric
