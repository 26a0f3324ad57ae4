-- Runs of one contributor and metric as the statistics take them, and whether each falls on or after a day.
select labels.*, sessions.started_on >= $since as later
from work.run_labels as labels
join runs on runs.run = labels.run
join sessions on sessions.session = runs.session
where labels.contributor = $contributor and labels.metric = $metric
order by labels.run
