-- How often each last digit occurs, over one run a cell: the runs of a quiet cell share their digits, those of two cells don't.
SELECT
  CAST(digit AS VARCHAR) AS place,
  min(first_row) AS _row,
  any_value(cells) AS trials,
  count(*) AS hits
FROM (
  SELECT
    CAST(round(r.$metric / s.reported_step) AS BIGINT) % 10 AS digit,
    c.first_row,
    count(*) OVER () AS cells
  FROM handed.cells AS c
  JOIN handed.runs AS r ON r._row = c.first_row
  JOIN handed.steps AS s ON s.metric = '$name'
  ANTI JOIN handed.doubted AS d ON d.cell = c.cell AND d.metric = '$name'
  WHERE r.$metric >= 100 * s.reported_step
)
GROUP BY digit
