-- Sets that their contributors took back: a tombstone each.
select set_id, contributor, reason
from sets
where state = 'withdrawn'
order by set_id
