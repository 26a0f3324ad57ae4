-- How the changes that several contributors measured compare.
SELECT platform, card, workload, resolution, contrast, metric, rig, method, against,
       change_pct, difference_pct, low_95_pct, high_95_pct, flagged
FROM agreement
ORDER BY metric, contrast, workload, resolution, rig, method, against
