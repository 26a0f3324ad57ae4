-- A row a capture: its sums, its longest frame, and a few of its frames that tell whether a look at all of them is worth
-- while: the first eight, the first four of the second half, and the last.
with
    summaries as (
        select
            place,
            count(*) as frames,
            sum(frame_ns) as total_ns,
            max(frame_ns) as longest_ns,
            min(in_order) as first_row,
            min(frame_ns) > 0 and count(frame_ns) = count(*) as plain
        from (select $place as place, frame_ns, rowid as in_order from $frames)
        group by place
    ),
    probes as (
        select
            place,
            unnest(range(8) || range(frames // 2, frames // 2 + 4) || [frames - 1]) as nth,
            first_row + nth as probed_row
        from summaries
        where frames >= $fewest
    ),
    probed as (
        select probes.place, list(frames.frame_ns order by probes.nth) as probes
        from probes
        inner join $frames as frames on probes.probed_row = frames.rowid
        group by probes.place
    )
select place, frames, total_ns, longest_ns, first_row, plain, coalesce(probes, []) as probes
from summaries
left join probed using (place)
order by place;
