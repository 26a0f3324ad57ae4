-- Cells of one contributor worth measuring again, one row per reason:
-- a run that the others contradict, or a change whose size a few more runs would settle.
with doubtful as (
    select
        rig,
        workload,
        resolution,
        format('{} of {} runs at {} doubtful ({})', doubtful_runs, runs, level, metric) as reason
    from cells
    where contributor = $contributor and doubtful_runs > 0
),

unsettled as (
    select
        rig,
        workload,
        resolution,
        format(
            '{}, {}: {:+.1f} % ({:+.1f} to {:+.1f}) is not settled, {} more runs a level would do',
            contrast, metric, change_pct, low_95_pct, high_95_pct, runs_needed
        ) as reason
    from comparisons
    where contributor = $contributor and current and size = 'unsettled' and runs_needed between 1 and 5
)

select rig, workload, resolution, reason from doubtful
union all
select rig, workload, resolution, reason from unsettled
order by rig, workload, resolution, reason
