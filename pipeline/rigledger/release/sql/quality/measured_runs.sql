-- One row a run with its role, as it stands after corrections.
SELECT run, role FROM runs ORDER BY run
