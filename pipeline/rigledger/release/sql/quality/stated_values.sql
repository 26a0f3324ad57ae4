-- Measured values with the bounds that their metric allows.
SELECT measurements.run, measurements.metric, measurements.origin, measurements.value,
       measurements.value >= metrics.least AND measurements.value <= metrics.most AS within_bounds
FROM measurements JOIN metrics USING (metric)
ORDER BY measurements.run, measurements.metric, measurements.origin
