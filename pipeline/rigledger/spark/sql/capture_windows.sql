-- The window of its capture that each run takes, of the captures that are here.
select
    runs.run,
    runs.capture as capture_file,
    runs.capture_from_s as from_s,
    runs.capture_for_s as for_s
from runs
join captures using (capture)
where captures.state = 'here'
