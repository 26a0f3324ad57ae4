-- One row a cell in its session, over its measured runs in the order of their passes.
CREATE OR REPLACE TEMP TABLE block_order AS
SELECT r.rig, r.session, b.*
FROM (
  SELECT
    p.block,
    min(p._row) AS first_row,
    count(*) AS runs,
    arg_min(p.$metric, p.pass) AS first_value,
    arg_max(p.$metric, p.pass) AS last_value,
    min(p.$metric, 2) AS lowest_two
  FROM handed.located AS p
  ANTI JOIN handed.doubted AS d ON d.cell = p.cell AND d.metric = '$name'
  WHERE p.role = 'measured' AND p.$metric > 0 AND p.pass IS NOT NULL
  GROUP BY p.block
  HAVING count(*) >= 2
) AS b
JOIN handed.runs AS r ON r._row = b.first_row
