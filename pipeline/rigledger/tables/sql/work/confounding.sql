-- What differs between the two sides of a comparison besides the level and is in no key.
with facts_of_sides as (
    -- Sessions that hold both levels can't differ from themselves. A temperature is what it was, not what somebody
    -- set: it belongs to the spread between sessions.
    select
        sessions.contributor, sessions.metric, sessions.pair, sessions.side,
        facts.fact as difference,
        string_agg(distinct facts.value, ' | ' order by facts.value) as stated
    from work.block_sessions as sessions
    join facts using (session)
    where not sessions.shared
      and facts.unit is distinct from 'degC'
    group by sessions.contributor, sessions.metric, sessions.pair, sessions.side, facts.fact
),

windows_of_cells as (
    select
        counted.metric, counted.tried,
        string_agg(
            distinct concat_ws(' ', coalesce(runs.capture_from_s, 0), runs.capture_for_s), ' | '
            order by concat_ws(' ', coalesce(runs.capture_from_s, 0), runs.capture_for_s)
        ) as stated
    from work.counted
    join work.runs_in_force as runs using (run)
    where counted.origin = 'recomputed'
    group by counted.metric, counted.tried
),

differences as (
    select one.contributor, one.metric, one.pair, one.difference
    from facts_of_sides as one
    join facts_of_sides as other using (contributor, metric, pair, difference)
    where one.side = 'from' and other.side = 'to' and one.stated <> other.stated
    union all
    select pairs.contributor, pairs.metric, pairs.pair, 'window' as difference
    from work.pairs
    join windows_of_cells as one
        on one.metric = pairs.metric and one.tried = pairs.from_tried
    join windows_of_cells as other
        on other.metric = pairs.metric and other.tried = pairs.to_tried
    where one.stated <> other.stated
    union all
    select pairs.contributor, pairs.metric, pairs.pair, 'origin' as difference
    from work.pairs
    where pairs.from_origin <> pairs.to_origin
)

select
    contributor, metric, pair,
    string_agg(difference, ', ' order by difference) as confounded_by
from differences
group by contributor, metric, pair
