SELECT _row, 'pass' AS column_name, CAST(pass AS VARCHAR) AS value,
  'row ' || earlier || ' is pass ' || pass || ' of the same session, workload, build, resolution and level' AS detail
FROM (
  SELECT _row, pass, min(_row) OVER (
    PARTITION BY rig, session, workload, title_build, resolution, level, pass
  ) AS earlier
  FROM handed.runs
  WHERE role = 'measured' AND (rig, session, workload, title_build, resolution, level, pass) IN (
    SELECT (rig, session, workload, title_build, resolution, level, pass) FROM handed.runs WHERE role = 'measured'
    GROUP BY ALL HAVING count(*) > 1
  )
)
WHERE _row > earlier
