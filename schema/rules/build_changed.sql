SELECT min(_row) AS _row, 'title_build' AS column_name, NULL AS value,
  workload || ' on rig ' || rig || ' ran as ' || string_agg(DISTINCT title_build, ', ' ORDER BY title_build) AS detail
FROM handed.runs WHERE role = 'measured' AND title_build <> 'unknown'
GROUP BY rig, workload HAVING count(DISTINCT title_build) > 1
