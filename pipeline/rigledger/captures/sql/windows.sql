-- A window takes the frames that end after its start and no later than its end, so that
        -- windows that follow each other share no frame and lose none.
        select
            used.run,
            count(*)::hugeint as n,
            sum(frame_ns)::hugeint as total_ns,
            $slowest as slowest
        from (
            select
                file_index,
                frame_ns,
                sum(frame_ns) over (partition by file_index order by file_row_number) as ends_ns
            from $scan
        ) as frames
        inner join frame_metrics_places as places on frames.file_index = places.place
        inner join frame_metrics_windows as used
            on
                places.capture_file = used.capture_file
                and not used.whole
                and frames.ends_ns > used.from_ns
                and (used.to_ns is null or frames.ends_ns <= used.to_ns)
        group by used.run
