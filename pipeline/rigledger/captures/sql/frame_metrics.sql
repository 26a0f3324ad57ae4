-- Every metric that can be made from frames, for the runs of one batch.
--
-- `reduced` holds a row a run: number of frames, their time, and the slowest of them, slowest first,
-- as many as the widest tail needs. Everything up to the last division is done in whole
-- nanoseconds, so the result doesn't depend on the number of threads. Runs are numbered on the way:
-- their names are long, and a thousand frames of each are sorted.
create or replace temp table frame_metrics_batch as
with
    reduced as materialized (
        select *, row_number() over () as number from (
        $reduced
        )
    ),
    listed as (
        select
            number,
            n,
            total_ns,
            unnest(slowest) as frame_ns,
            generate_subscripts(slowest, 1) as place
        from reduced
    ),
    slow as (
        select
            number,
            n,
            total_ns,
            frame_ns,
            place,
            sum(frame_ns) over (partition by number order by place) as slowest_ns
        from listed
    ),
    numbered as (
        select
            number,
            n,
            total_ns,
            $parts
        from slow
        group by number, n, total_ns
    ),
    ratios as (
        select reduced.run, numbered.*
        from numbered
        inner join reduced on numbered.number = reduced.number
    )
$metrics;
