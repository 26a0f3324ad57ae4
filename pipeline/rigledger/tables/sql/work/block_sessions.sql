-- The sessions on which each comparison rests. A session that holds both levels is compared within itself; the others are
-- compared round by round, where a round has both levels. Where the levels share neither, all sessions are kept and
-- `levels_meet` is false.
with sides as (
    select pairs.contributor, pairs.metric, pairs.pair, 'from' as side, held.session, held.round
    from work.pairs
    join work.cell_sessions as held
        on held.metric = pairs.metric and held.tried = pairs.from_tried
    where pairs.from_origin = pairs.to_origin
    union all
    select pairs.contributor, pairs.metric, pairs.pair, 'to' as side, held.session, held.round
    from work.pairs
    join work.cell_sessions as held
        on held.metric = pairs.metric and held.tried = pairs.to_tried
    where pairs.from_origin = pairs.to_origin
),

marked as (
    select
        *,
        count(*) over (partition by contributor, metric, pair, session) = 2 as shared
    from sides
),

blocks as (
    select
        *,
        shared
        or min(side) over (partition by contributor, metric, pair, round, shared)
            <> max(side) over (partition by contributor, metric, pair, round, shared) as in_block
    from marked
),

met as (
    select *, bool_or(in_block) over (partition by contributor, metric, pair) as levels_meet
    from blocks
)

select contributor, metric, pair, side, session, round, shared, levels_meet
from met
where in_block or not levels_meet
