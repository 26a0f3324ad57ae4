-- How much each session weighs in the change of one title, one row per comparison of `title_set_rows` and session. A session that holds
-- both levels weighs in once; else sessions of the one level are taken from those of the other.
with used as (
    select distinct rows_used.contributor, rows_used.metric, rows_used.pair
    from work.title_set_rows as rows_used
    where rows_used.pair is not null
)

select
    contributor,
    metric,
    pair,
    case when shared then session || ' within' else session end as session,
    case when side = 'from' then -1.0 else 1.0 end
        / count(*) over (partition by contributor, metric, pair, side, shared) as weight
from work.block_sessions
semi join used using (contributor, metric, pair)
where side = 'to' or not shared
