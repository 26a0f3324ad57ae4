-- Recomputed values that the captures don't give; values that a correction replaced are left out.
SELECT 'run=' || measurements.run || ' metric=' || measurements.metric AS row_key,
       CAST(measurements.value AS VARCHAR) AS recorded,
       CAST(frame_metrics.value AS VARCHAR) AS found
FROM measurements
JOIN runs USING (run)
LEFT JOIN frame_metrics USING (run, metric)
WHERE measurements.origin = 'recomputed'
  AND (frame_metrics.value IS NULL
       OR abs(measurements.value - frame_metrics.value) > 1e-9 * abs(frame_metrics.value))
  AND runs.capture IN (SELECT capture FROM captures WHERE state = 'here')
  AND NOT EXISTS (
      SELECT 1 FROM corrections
      WHERE corrections.status = 'applied' AND corrections.session = runs.session
        AND (corrections.run IS NULL OR corrections.run = runs.run)
        AND (corrections.metric IS NULL OR corrections.metric = measurements.metric)
  )
ORDER BY row_key
