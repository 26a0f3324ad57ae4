-- A row that repeats another one's run number is named by that already.
SELECT _row, 'pass' AS column_name, CAST(pass AS VARCHAR) AS value,
  'row ' || earlier || ' is pass ' || pass || ' of the same session, workload, build, resolution and level' AS detail
FROM (
  SELECT _row, pass, min(_row) OVER (PARTITION BY block, pass) AS earlier
  FROM handed.located SEMI JOIN (FROM handed.blocks WHERE measured AND passes <> passes_seen) AS more USING (block)
  WHERE role = 'measured' AND pass IS NOT NULL
) AS d
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = d._row AND f.column_name = 'run'
WHERE _row > earlier
