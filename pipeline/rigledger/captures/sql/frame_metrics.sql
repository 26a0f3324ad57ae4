-- Every metric that can be made from frames, for the runs of one batch.
--
-- A window takes the frames that end after its start and no later than its end, so that windows
-- that follow each other share no frame and lose none. Everything up to the last division is done
-- in whole nanoseconds, so the result doesn't depend on the number of threads.
create or replace temp table frame_metrics_batch as
with
    frames_in_order as (
        select
            filename,
            frame_ns,
            sum(frame_ns) over (partition by filename order by file_row_number) as ends_ns
        from $scan
    ),
    frames as (
        select batch.run, frames_in_order.frame_ns
        from frame_metrics_windows as batch
        inner join frames_in_order
            on
                batch.capture_file = frames_in_order.filename
                and frames_in_order.ends_ns > batch.from_ns
                and (batch.to_ns is null or frames_in_order.ends_ns <= batch.to_ns)
        where batch.batch = $batch
    ),
    whole as (
        select
            run,
            count(*)::hugeint as n,
            sum(frame_ns)::hugeint as total_ns,
            quantile_disc(frame_ns, $slow_quantile) as slow_ns
        from frames
        group by run
    ),
    -- Twice the widest tail, so that no rank a metric asks for is cut off; short runs stay whole.
    slow as (
        select
            run,
            n,
            total_ns,
            frame_ns,
            row_number() over slowest as place,
            sum(frame_ns) over slowest as slowest_ns
        from frames
        inner join whole using (run)
        where frame_ns >= slow_ns or n < $short_run
        window slowest as (partition by run order by frame_ns desc rows unbounded preceding)
    ),
    ratios as (
        select
            run,
            $parts
        from slow
        group by run, n, total_ns
    ),
    by_metric as (
        $metrics
    )
select by_metric.run, by_metric.metric, by_metric.value, whole.n::bigint as frames,
    whole.total_ns::bigint as covered_ns
from by_metric
inner join whole using (run);
