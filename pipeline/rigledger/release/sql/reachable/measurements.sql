-- Values of the runs that are left.
SELECT * FROM measurements WHERE run IN (SELECT run FROM runs)
