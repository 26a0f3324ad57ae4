-- Workloads of the runs that are left.
SELECT * FROM workloads WHERE workload IN (SELECT workload FROM runs)
