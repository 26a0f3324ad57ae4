-- Two metrics or more in three runs, or one in five: less agrees by chance where the values are rounded.
SELECT min(first_row) AS _row, min(metric) AS column_name, NULL AS value,
  any_value(rig) || ', ' || any_value(workload) || ', ' || any_value(resolution) || ', ' || any_value(level) || ': all ' ||
  min(runs) || ' runs have the same ' || string_agg(metric, ' and ' ORDER BY metric) AS detail
FROM handed.cell_values
WHERE runs >= 3 AND lowest = highest
GROUP BY cell
HAVING count(*) = (SELECT count(DISTINCT metric) FROM handed.measurements) AND (count(*) > 1 OR min(runs) >= 5)
