-- What differs between the two sides of a shift besides stack and build: facts that both sides state differently (a
-- temperature is what it was, not what somebody set), the window of the captures, the origin of the values.
with cell_sides as (
    select pairs.contributor, pairs.metric, pairs.shift, 'before' as side, pairs.before as cell
    from work.shift_pairs as pairs
    where pairs.kind = 'cell'
    union all
    select pairs.contributor, pairs.metric, pairs.shift, 'after' as side, pairs.after as cell
    from work.shift_pairs as pairs
    where pairs.kind = 'cell'
),

sides as (
    select cell_sides.contributor, cell_sides.metric, 'cell' as kind, cell_sides.shift, cell_sides.side, held.session
    from cell_sides
    join work.measured_cells as cells using (contributor, metric, cell)
    join work.cell_sessions as held
        on held.metric = cells.metric and held.tried = cells.tried
    union all
    select pairs.contributor, pairs.metric, 'effect' as kind, pairs.shift, 'before' as side, held.session
    from work.shift_pairs as pairs
    join work.block_sessions as held
        on held.contributor = pairs.contributor and held.metric = pairs.metric and held.pair = pairs.before
    where pairs.kind = 'effect'
    union all
    select pairs.contributor, pairs.metric, 'effect' as kind, pairs.shift, 'after' as side, held.session
    from work.shift_pairs as pairs
    join work.block_sessions as held
        on held.contributor = pairs.contributor and held.metric = pairs.metric and held.pair = pairs.after
    where pairs.kind = 'effect'
),

facts_of_sides as (
    select
        sides.contributor, sides.metric, sides.kind, sides.shift, sides.side, facts.fact as difference,
        string_agg(distinct facts.value, ' | ' order by facts.value) as stated
    from sides
    join facts using (session)
    where facts.unit is distinct from 'degC'
    group by sides.contributor, sides.metric, sides.kind, sides.shift, sides.side, facts.fact
),

windows_of_sides as (
    select
        cell_sides.contributor, cell_sides.metric, 'cell' as kind, cell_sides.shift, cell_sides.side,
        'window' as difference,
        string_agg(
            distinct concat_ws(' ', coalesce(runs.capture_from_s, 0), runs.capture_for_s), ' | '
            order by concat_ws(' ', coalesce(runs.capture_from_s, 0), runs.capture_for_s)
        ) as stated
    from cell_sides
    join work.measured_cells as cells using (contributor, metric, cell)
    join work.counted
        on counted.metric = cells.metric and counted.tried = cells.tried
    join work.runs_in_force as runs using (run)
    where counted.origin = 'recomputed'
    group by cell_sides.contributor, cell_sides.metric, cell_sides.shift, cell_sides.side
),

origins_of_sides as (
    select
        cell_sides.contributor, cell_sides.metric, 'cell' as kind, cell_sides.shift, cell_sides.side,
        'origin' as difference, cells.origin as stated
    from cell_sides
    join work.measured_cells as cells using (contributor, metric, cell)
),

stated as (
    select * from facts_of_sides
    union all
    select * from windows_of_sides
    union all
    select * from origins_of_sides
)

select
    contributor, metric, kind, shift,
    string_agg(difference, ', ' order by difference) as confounded_by
from stated as one
join stated as other using (contributor, metric, kind, shift, difference)
where one.side = 'before' and other.side = 'after' and one.stated <> other.stated
group by contributor, metric, kind, shift
