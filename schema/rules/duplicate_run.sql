-- A row that repeats another one's run number is named by that already.
SELECT _row, 'pass' AS column_name, CAST(pass AS VARCHAR) AS value,
  'row ' || earlier || ' is pass ' || pass || ' of the same session, workload, build, resolution and level' AS detail
FROM (
  SELECT _row, pass, min(_row) OVER (PARTITION BY block, pass) AS earlier
  FROM handed.placed JOIN handed.runs USING (_row)
  WHERE hash(block, pass) IN (
    SELECT hash(block, pass) AS one FROM handed.placed JOIN handed.runs USING (_row)
    WHERE pass IS NOT NULL GROUP BY one HAVING count(*) > 1
  )
) AS d
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = d._row AND f.column_name = 'run'
WHERE _row > earlier
