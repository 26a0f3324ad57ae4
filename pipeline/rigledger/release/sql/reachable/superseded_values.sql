-- What superseded sets said that are named here, of workloads that are left; a later set that isn't published is not named, nor
-- what it says.
SELECT * REPLACE (
    CASE WHEN superseded_by IN (SELECT set_id FROM sets) THEN superseded_by END AS superseded_by,
    CASE WHEN superseded_by IN (SELECT set_id FROM sets) THEN value_now END AS value_now
)
FROM superseded_values
WHERE set_id IN (SELECT set_id FROM sets) AND workload IN (SELECT workload FROM workloads)
