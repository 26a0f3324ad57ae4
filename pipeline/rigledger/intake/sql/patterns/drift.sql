-- By session: in how many blocks the last pass is slower than the first one; blocks in which the two are equal say nothing.
SELECT
  rig || ', session ' || session AS place,
  min(first_row) AS _row,
  count(*) AS trials,
  count(*) FILTER (last_value < first_value) AS hits
FROM (
  SELECT
    any_value(r.rig) AS rig,
    any_value(r.session) AS session,
    min(r._row) AS first_row,
    arg_min(r.$metric, r.pass) AS first_value,
    arg_max(r.$metric, r.pass) AS last_value
  FROM handed.placed AS p
  JOIN handed.runs AS r USING (_row)
  ANTI JOIN handed.doubted AS d ON d.cell = p.cell AND d.metric = '$name'
  WHERE r.$metric > 0 AND r.pass IS NOT NULL
  GROUP BY p.block
  HAVING count(*) >= 2 AND first_value <> last_value
)
GROUP BY ALL
