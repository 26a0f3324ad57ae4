SELECT min(first_row) AS _row, min(metric) AS column_name, NULL AS value,
  rig || ', ' || workload || ', ' || resolution || ', ' || level || ': all ' || min(runs) || ' runs have the same ' ||
  string_agg(metric, ' and ' ORDER BY metric) AS detail
FROM handed.cell_values
WHERE runs >= 3
GROUP BY rig, stack, workload, title_build, resolution, level
HAVING bool_and(lowest = highest) AND (count(*) > 1 OR min(runs) >= 5)
