-- The sessions on which each comparison rests. A session that holds both levels is compared within itself; the others are
-- compared round by round, where a round has both levels. Where the levels share neither, all sessions are kept and
-- `levels_meet` is false.
with sides as (
    select contributor, metric, pair, 'from' as side, from_tried as tried
    from work.pairs
    where from_origin = to_origin
    union all
    select contributor, metric, pair, 'to' as side, to_tried as tried
    from work.pairs
    where from_origin = to_origin
),

marked as (
    select
        sides.contributor, sides.metric, sides.pair, held.session,
        any_value(held.round) as round,
        min(sides.side) as first_side,
        max(sides.side) as last_side,
        count(*) = 2 as shared
    from work.cell_sessions as held
    join sides using (metric, tried)
    group by sides.contributor, sides.metric, sides.pair, held.session
),

rounds as (
    select contributor, metric, pair, round, true as of_both
    from marked
    where not shared
    group by contributor, metric, pair, round
    having min(first_side) <> max(first_side)
),

blocks as (
    select marked.*, marked.shared or rounds.of_both is not null as in_block
    from marked
    left join rounds using (contributor, metric, pair, round)
),

met as (
    select contributor, metric, pair, bool_or(in_block) as levels_meet
    from blocks
    group by contributor, metric, pair
),

kept as (
    select blocks.*, met.levels_meet
    from blocks
    join met using (contributor, metric, pair)
    where blocks.in_block or not met.levels_meet
)

select contributor, metric, pair, first_side as side, session, round, shared, levels_meet
from kept
union all
select contributor, metric, pair, last_side as side, session, round, shared, levels_meet
from kept
where shared
