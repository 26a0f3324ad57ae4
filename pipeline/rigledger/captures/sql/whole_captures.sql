select
            used.run,
            whole.n,
            whole.total_ns,
            whole.slowest
        from (
            select
                file_index,
                count(*)::hugeint as n,
                sum(frame_ns)::hugeint as total_ns,
                $slowest as slowest
            from $scan
            group by file_index
        ) as whole
        inner join frame_metrics_places as places on whole.file_index = places.place
        inner join frame_metrics_windows as used
            on places.capture_file = used.capture_file and used.whole
