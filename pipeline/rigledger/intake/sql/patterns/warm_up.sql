-- By rig: in how many blocks (one cell in one session, three runs or more) the first pass is the slowest, without ties.
SELECT
  rig AS place,
  min(first_row) AS _row,
  count(*) AS trials,
  count(*) FILTER (first_value < others) AS hits
FROM (
  SELECT
    any_value(r.rig) AS rig,
    min(r._row) AS first_row,
    arg_min(r.$metric, r.pass) AS first_value,
    (list_sort(list(r.$metric)))[2] AS others,
    min(r.$metric) AS slowest
  FROM handed.placed AS p
  JOIN handed.runs AS r USING (_row)
  ANTI JOIN handed.doubted AS d ON d.cell = p.cell AND d.metric = '$name'
  WHERE r.$metric > 0 AND r.pass IS NOT NULL
  GROUP BY p.block
  HAVING count(*) >= 3 AND slowest < others
)
GROUP BY rig
