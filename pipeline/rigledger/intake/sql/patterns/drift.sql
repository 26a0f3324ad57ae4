-- By session: in how many blocks the last pass is slower than the first one; blocks in which the two are equal say nothing.
SELECT
  rig || ', session ' || session AS place,
  min(first_row) AS _row,
  count(*) AS trials,
  count(*) FILTER (last_value < first_value) AS hits
FROM handed.block_order
WHERE first_value <> last_value
GROUP BY rig, session
