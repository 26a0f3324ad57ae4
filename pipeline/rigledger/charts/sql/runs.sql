-- The measured runs of one rig, workload and resolution, in the order in which they were made.
SELECT runs_wide.*
FROM runs_wide
WHERE role = 'measured' AND rig = $rig AND workload = $workload AND resolution = $resolution
ORDER BY boot, "position" NULLS LAST, pass, run
