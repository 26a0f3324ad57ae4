SELECT min(_row) AS _row, 'title_build' AS column_name, 'unknown' AS value,
  'the build of ' || workload || ' is unknown in ' || count(*) || if(count(*) = 1, ' run of ', ' runs of ') || 'rig ' || rig AS detail
FROM handed.runs WHERE lower(title_build) = 'unknown' AND role = 'measured'
GROUP BY rig, workload
