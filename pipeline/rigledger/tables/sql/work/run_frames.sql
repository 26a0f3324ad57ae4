-- How many frames each run in force has; blank where nothing tells.
-- A whole capture was counted. A window of a capture has average x length frames, give or take the one that its edge
-- cuts. Without a capture, the reported average x the reported duration.
with average as (
    select run, recomputed, reported
    from work.run_values
    where metric = 'average_fps'
)

select
    runs.run,
    case
        when captures.capture is not null
            and coalesce(runs.capture_from_s, 0) = 0
            and runs.capture_for_s is null
            then captures.frames
        when captures.capture is not null
            then least(
                captures.frames,
                cast(round(average.recomputed * least(
                    coalesce(runs.capture_for_s, captures.total_ns / 1e9),
                    captures.total_ns / 1e9 - coalesce(runs.capture_from_s, 0)
                )) as bigint)
            )
        else cast(floor(average.reported * runs.duration_s) as bigint)
    end as frames
from work.runs_in_force as runs
left join average using (run)
left join captures using (capture)
