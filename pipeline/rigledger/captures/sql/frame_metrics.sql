-- Every metric that can be made from frames, for the runs of one batch.
--
-- `reduced` holds a row a run: number of frames, their time, and the slowest of them, slowest first,
-- as many as the widest tail needs. Everything up to the last division is done in whole
-- nanoseconds, so the result doesn't depend on the number of threads.
create or replace temp table frame_metrics_batch as
with
    reduced as (
        $reduced
    ),
    listed as (
        select
            run,
            n,
            total_ns,
            unnest(slowest) as frame_ns,
            generate_subscripts(slowest, 1) as place
        from reduced
    ),
    slow as (
        select
            run,
            n,
            total_ns,
            frame_ns,
            place,
            sum(frame_ns) over (partition by run order by place) as slowest_ns
        from listed
    ),
    ratios as (
        select
            run,
            n,
            total_ns,
            $parts
        from slow
        group by run, n, total_ns
    )
$metrics;
