-- Difference between two rigs of one contributor on each workload that both measured, then over all of them together
-- (`all-shared`): the geometric mean, whose interval comes from the titles' own. What their runs leave open averages out over the
-- titles; the share of a boot's shift that all titles of a session have in common does not.
with rows_of_both as (
    select
        from_rig, to_rig, workload, resolution, level, metric, contributor,
        1 as titles,
        from_ln,
        to_ln,
        ln_difference,
        sqrt(run_squares + from_boot_squares + to_boot_squares) as half,
        session_basis,
        array_to_string(list_sort(differing), ', ') as differs_in
    from work.shared_titles

    union all

    select
        from_rig, to_rig, 'all-shared' as workload, resolution, level, metric, contributor,
        count(*) as titles,
        list_sum(list(from_ln order by workload)) / count(*) as from_ln,
        list_sum(list(to_ln order by workload)) / count(*) as to_ln,
        list_sum(list(ln_difference order by workload)) / count(*) as ln_difference,
        sqrt(
            list_sum(list(
                run_squares + (1 - boot_common) * (from_boot_squares + to_boot_squares) order by workload
            ))
            + any_value(boot_common) * pow(list_sum(list(sqrt(from_boot_squares) order by workload)), 2)
            + any_value(boot_common) * pow(list_sum(list(sqrt(to_boot_squares) order by workload)), 2)
        ) / count(*) as half,
        min(session_basis) as session_basis,
        array_to_string(list_sort(list_distinct(flatten(list(differing)))), ', ') as differs_in
    from work.shared_titles
    group by from_rig, to_rig, resolution, level, metric, contributor
)

select
    rows_of_both.from_rig,
    rows_of_both.to_rig,
    rows_of_both.workload,
    rows_of_both.resolution,
    rows_of_both.level,
    rows_of_both.metric,
    rows_of_both.contributor,
    metrics.unit,
    rows_of_both.titles,
    exp(rows_of_both.from_ln) as from_value,
    exp(rows_of_both.to_ln) as to_value,
    100 * (exp(rows_of_both.ln_difference) - 1) as difference_pct,
    100 * (exp(rows_of_both.ln_difference - rows_of_both.half) - 1) as low_95_pct,
    100 * (exp(rows_of_both.ln_difference + rows_of_both.half) - 1) as high_95_pct,
    rows_of_both.session_basis,
    nullif(rows_of_both.differs_in, '') as differs_in
from rows_of_both
join metrics using (metric)
