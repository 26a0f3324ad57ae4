-- The changes that may be set beside those of other contributors: current, of a metric whose definition is fixed, with a
-- verdict (or none only because neither side is better); with the run-to-run spread of both levels.
with spreads as (
    select
        rows_used.contributor, rows_used.metric, rows_used.pair,
        from_cells.runs + to_cells.runs - from_cells.sessions - to_cells.sessions as spread_df,
        coalesce(from_cells.spread_pct, 0) ** 2 * (from_cells.runs - from_cells.sessions)
        + coalesce(to_cells.spread_pct, 0) ** 2 * (to_cells.runs - to_cells.sessions) as squares
    from work.summary_rows as rows_used
    join work.measured_cells as from_cells
        on from_cells.metric = rows_used.metric and from_cells.tried = rows_used.from_tried
    join work.measured_cells as to_cells
        on to_cells.metric = rows_used.metric and to_cells.tried = rows_used.to_tried
)

select
    rigs.platform, rigs.card, rows_used.workload, rows_used.resolution, rows_used.contrast, rows_used.metric,
    rows_used.rig, rows_used.contributor, person.counted_as, rows_used.title_build,
    rows_used.ln_change, rows_used.ln_half_90, rows_used.ln_half_95,
    spreads.spread_df,
    case when spreads.spread_df > 0 then sqrt(spreads.squares / spreads.spread_df) end as spread_pct,
    stacks.* exclude (stack, contributor),
    case
        when 'unknown' not in (stacks.os, stacks.driver_version, rows_used.title_build)
            then stacks.os || ', driver ' || split_part(stacks.driver_version, '.', 1)
                || ', build ' || rows_used.title_build
    end as stack_family,
    (rows_used.no_verdict is null or rows_used.no_verdict = 'direction_neither')
    and rows_used.ln_half_95 > 0 as usable
from work.summary_rows as rows_used
join rigs on rigs.rig = rows_used.rig
join stacks on stacks.stack = rows_used.stack
join metrics on metrics.metric = rows_used.metric
join work.one_person as person on person.contributor = rows_used.contributor
join spreads
    on spreads.contributor = rows_used.contributor
    and spreads.metric = rows_used.metric
    and spreads.pair = rows_used.pair
where metrics.comparable = 'everywhere'
