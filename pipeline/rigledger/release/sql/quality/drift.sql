-- Quantities that are compared between two releases, as name and value. The tables may hold text, as an earlier release is read.
SELECT 'median_spread_pct.' || metric AS name, median(CAST(spread_pct AS DOUBLE)) AS value
FROM {cells}
WHERE spread_pct IS NOT NULL
GROUP BY metric

UNION ALL

SELECT 'without_verdict_pct', 100.0 * count(no_verdict) / count(*)
FROM {comparisons}
WHERE CAST(current AS VARCHAR) = 'true'
HAVING count(*) > 0

UNION ALL

SELECT 'median_change_pct.' || contrast || '.' || metric, median(CAST(change_pct AS DOUBLE))
FROM {comparisons}
WHERE CAST(current AS VARCHAR) = 'true' AND change_pct IS NOT NULL
GROUP BY contrast, metric
ORDER BY 1
