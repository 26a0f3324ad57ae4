-- How many frames each run in force has. `counted_frames` are those of its window of the capture, counted when its metrics
-- were recomputed, or of a whole capture that is kept elsewhere; `frames` also takes the reported average x the reported
-- duration where there is no capture. Blank where nothing tells.
with told as (
    select
        run,
        max(frames) as frames,
        max(reported) filter (metric = 'average_fps') as average
    from work.run_values
    group by run
),

counted as (
    select
        runs.run,
        runs.duration_s,
        told.average,
        coalesce(
            told.frames,
            case
                when coalesce(runs.capture_from_s, 0) = 0 and runs.capture_for_s is null
                    then captures.frames
            end
        ) as counted_frames
    from work.runs_in_force as runs
    left join told using (run)
    left join captures using (capture)
)

select
    run,
    counted_frames,
    coalesce(counted_frames, cast(floor(average * duration_s) as bigint)) as frames
from counted
