-- The cells that have a value in doubt, in their sessions.
CREATE OR REPLACE TABLE handed.doubted_blocks AS
SELECT DISTINCT r.rig, r.session, r.workload, r.title_build, r.resolution, r.level
FROM handed.doubted AS d
JOIN handed.placed AS p ON p.cell = d.cell
JOIN handed.runs AS r ON r._row = p._row
WHERE d.metric = '$name';
-- One row a cell in its session, over its measured runs in the order of their passes; without those.
CREATE OR REPLACE VIEW handed.block_order AS
SELECT
  rig,
  session,
  $first_row AS first_row,
  $numbered AS runs,
  $first AS first_value,
  $last AS last_value,
  $least AS least,
  $alone AS alone
FROM handed.block_sums AS b
ANTI JOIN handed.doubted_blocks AS d ON d.rig = b.rig AND d.session = b.session AND d.workload = b.workload
  AND d.title_build = b.title_build AND d.resolution = b.resolution AND d.level = b.level
WHERE measured AND $numbered >= 2
