SELECT first_row AS _row, metric AS column_name, CAST(lowest AS VARCHAR) || ' to ' || CAST(highest AS VARCHAR) AS value,
  rig || ', ' || workload || ', ' || resolution || ', ' || level || ': ' || metric || ' reads ' || lowest || ' to ' || highest AS detail
FROM handed.cell_values JOIN study.metrics AS q USING (metric)
WHERE runs >= 2 AND q.tail_rule = 'none' AND highest > 1.25 * lowest
