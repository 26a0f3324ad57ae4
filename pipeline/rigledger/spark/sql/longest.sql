-- How many frames a capture has at most.
select coalesce(max(frames), 0) as longest
from captures
where state = 'here'
