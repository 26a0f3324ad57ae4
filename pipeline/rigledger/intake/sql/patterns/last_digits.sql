-- How often each last digit occurs, over the lowest value of each cell: the runs of a quiet cell share their digits, those of two
-- cells don't.
SELECT
  CAST(digit AS VARCHAR) AS place,
  min(first_row) AS _row,
  CAST(sum(count(*)) OVER () AS BIGINT) AS trials,
  count(*) AS hits
FROM (
  SELECT CAST(round(c.$lowest / s.reported_step) AS BIGINT) % 10 AS digit, c.first_row
  FROM handed.cells AS c
  JOIN handed.steps AS s ON s.metric = '$name'
  ANTI JOIN handed.doubted AS d ON d.cell = c.cell AND d.metric = '$name'
  WHERE c.$lowest >= 100 * s.reported_step
)
GROUP BY digit
