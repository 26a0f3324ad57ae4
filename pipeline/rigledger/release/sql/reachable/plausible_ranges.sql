-- Plausible ranges of the workloads that are left.
SELECT * FROM plausible_ranges WHERE workload IN (SELECT workload FROM workloads)
