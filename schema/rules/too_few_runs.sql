-- Cells that differ in stack or build alone, and are all short, are one thing missing: often a version that one row has otherwise.
WITH short AS (
  SELECT c.*, g.runs_required FROM handed.cells AS c, study.settings AS g
  WHERE c.runs < g.runs_required AND (SELECT max(runs) FROM handed.cells) > 1
)
SELECT arg_min(first_row, (runs, -first_row)) AS _row, 'run' AS column_name, CAST(min(runs) AS VARCHAR) AS value,
  rig || ', ' || workload || ', ' || resolution || ', ' || level || ' has '
  || string_agg(
    runs || ' of ' || runs_required || ' runs'
    || CASE WHEN builds > 1 THEN ' on build ' || title_build WHEN cells > 1 THEN ' on one stack' ELSE '' END,
    ' and ' ORDER BY first_row
  ) AS detail
FROM (
  SELECT *, count(*) OVER same AS cells, count(DISTINCT title_build) OVER same AS builds
  FROM short WINDOW same AS (PARTITION BY rig, workload, resolution, level)
)
GROUP BY rig, workload, resolution, level
