-- One value per run and metric: recomputed from the capture where there is one, else as reported.
SELECT run, metric,
       coalesce(max(value) FILTER (origin = 'recomputed'),
                max(value) FILTER (origin = 'reported')) AS value
FROM measurements
GROUP BY run, metric
ORDER BY run, metric
