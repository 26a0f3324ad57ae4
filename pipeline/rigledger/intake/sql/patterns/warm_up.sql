-- By rig: in how many blocks (one cell in one session, three runs or more) the first pass is the slowest, without ties.
SELECT
  rig AS place,
  min(first_row) AS _row,
  count(*) AS trials,
  count(*) FILTER (first_value = least) AS hits
FROM handed.block_order
WHERE runs >= 3 AND alone
GROUP BY rig
