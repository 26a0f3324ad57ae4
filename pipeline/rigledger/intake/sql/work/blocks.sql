-- The rows of block_sums with their short keys, whether any metric differs between their runs, and their highest value.
CREATE VIEW handed.blocks AS
SELECT *, hash(rig, session, workload, title_build, resolution, level) AS block, $differs AS differs, $highest_of_all AS highest
FROM handed.block_sums
