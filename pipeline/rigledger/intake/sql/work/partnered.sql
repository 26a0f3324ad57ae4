-- The cells with the number of their partners: cells that differ in the level alone.
CREATE VIEW handed.partnered AS
SELECT *, count(*) OVER (PARTITION BY rig, stack_key, workload, title_build, resolution) - 1 AS partners
FROM handed.cells
