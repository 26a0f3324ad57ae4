-- How the frame times of one capture follow each other: up, down, in pairs, and the second half against the first.
select
    count(*) filter (where frame_ns > before) as rises,
    count(*) filter (where frame_ns < before) as falls,
    count(distinct frame_ns) as kinds,
    coalesce(bool_and(frame_ns = before) filter (where nth % 2 = 1), false) as in_pairs,
    coalesce(bool_and(frame_ns = before) filter (where nth % 2 = 0 and nth > 0), false) as in_pairs_from_second,
    coalesce(bool_and(frame_ns = half_before) filter (where nth >= $$half), false) as twice
from (
    select
        frame_ns,
        rowid - $$first as nth,
        lag(frame_ns) over rows_in_order as before,
        lag(frame_ns, $$half) over rows_in_order as half_before
    from $frames
    where rowid between $$first and $$last
    window rows_in_order as (order by rowid)
);
