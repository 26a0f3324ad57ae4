-- The few kinds of runs there are, by what is asked of a run: how many of each, the shortest and longest, the last start, what any
-- of them lacks, and for each metric of the set its least and greatest value. Most rules need not look at the runs beyond this.
CREATE TABLE handed.mixes AS
SELECT
  workload,
  resolution,
  level,
  level_state,
  role,
  count(*) AS runs,
  min(coalesce(capture_for_s, duration_s)) AS shortest,
  max(coalesce(capture_for_s, duration_s)) AS longest,
  max(started_at) AS last_start,
  count(capture_file) > 0 AS captured,
  count(level_check) < count(*) AS unchecked,
  $aggregates
FROM handed.runs
GROUP BY ALL
