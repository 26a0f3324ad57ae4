-- Captures stand in no files of their own here: each is its own place.
select capture as capture_file, capture as place
from captures
where state = 'here'
