-- The part of a capture that each run used, for captures that the release includes.
SELECT runs.run, $folder || '/' || runs.capture || '.parquet' AS capture_file,
       runs.capture_from_s AS from_s, runs.capture_for_s AS for_s
FROM runs JOIN captures USING (capture)
WHERE captures.state = 'here'
ORDER BY runs.run
