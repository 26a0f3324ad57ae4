-- Frames of the captures that are used whole, or in windows: those that have to be put in order take the most time.
select capture as file_index, nth as file_row_number, frame_ns
from frames
semi join (
    select capture_file as capture
    from frame_metrics_windows
    where $used
) as used using (capture)
