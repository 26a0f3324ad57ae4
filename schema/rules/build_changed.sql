SELECT min(first_row) AS _row, 'title_build' AS column_name, NULL AS value,
  workload || ' on rig ' || rig || ' ran as ' || string_agg(DISTINCT title_build, ', ' ORDER BY title_build) AS detail
FROM handed.cells WHERE title_build <> 'unknown'
GROUP BY rig, workload HAVING min(title_build) <> max(title_build)
