-- One value per run and metric: recomputed from the capture where there is one, else as reported.
SELECT run, metric,
       coalesce(max(value) FILTER (origin = 'recomputed'),
                max(value) FILTER (origin = 'reported')) AS value
FROM measurements
SEMI JOIN shown_runs USING (run)
GROUP BY run, metric
ORDER BY run, metric
