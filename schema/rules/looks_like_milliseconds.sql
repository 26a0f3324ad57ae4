-- By the plausible range (and where other runs of the cell are inside it, 1000 divided by the value must be near them, else it is
-- mistyped); without one, by the run's own low (a time a frame is far below the rate of the slowest frames) or by its capture.
-- Where half of a rig's values are times, the rest of the column is taken for times too, unless their lows contradict it.
WITH stated AS NOT MATERIALIZED (
  SELECT m._row, m.metric, m.value, m.rig, m.workload, m.resolution, q.unit, q.tail_rule, q.weighting
  FROM handed.measurements AS m
  JOIN study.metrics AS q ON q.metric = m.metric
  WHERE m.role IN ('measured', 'sentinel') AND q.unit IN ('fps', 'ms') AND m.value > 0
),
outside AS MATERIALIZED (
  SELECT s.*, 'plausible are ' || p.least || ' to ' || p.most || ' ' || s.unit || '; 1000 / ' || s.value || ' = '
    || round(1000 / s.value, 1) || ' would be' AS detail
  FROM stated AS s
  JOIN study.plausible_ranges AS p ON p.workload = s.workload AND p.resolution = s.resolution AND p.metric = s.metric
  WHERE s.value NOT BETWEEN p.least AND p.most AND 1000 / s.value BETWEEN p.least AND p.most
),
suspects AS MATERIALIZED (
  SELECT o.*, c.cell
  FROM outside AS o LEFT JOIN (FROM handed.placed SEMI JOIN outside USING (_row)) AS c ON c._row = o._row
),
peers AS (
  SELECT p.cell, s.metric, avg(ln(s.value)) AS mean_ln
  FROM handed.placed AS p
  SEMI JOIN suspects AS d ON d.cell = p.cell
  JOIN stated AS s ON s._row = p._row
  JOIN study.plausible_ranges AS r ON r.workload = s.workload AND r.resolution = s.resolution AND r.metric = s.metric
    AND s.value BETWEEN r.least AND r.most
  GROUP BY p.cell, s.metric
),
ranged AS (
  SELECT s.* FROM suspects AS s
  LEFT JOIN peers AS o ON o.cell = s.cell AND o.metric = s.metric
  WHERE coalesce(abs(ln(1000 / s.value) - o.mean_ln) < ln(1.25), true)
),
odd AS MATERIALIZED (
  SELECT _row, metric FROM handed.run_frames
  UNION
  SELECT _row, metric FROM handed.low_pairs WHERE value < other_value / 4
),
unranged AS (
  SELECT s.* FROM stated AS s
  SEMI JOIN odd ON odd._row = s._row AND odd.metric = s.metric
  ANTI JOIN study.plausible_ranges AS p ON p.workload = s.workload AND p.resolution = s.resolution AND p.metric = s.metric
),
captured AS (
  SELECT u.*, 'the capture gives ' || round(c.value, 1) || ' ' || u.unit || '; 1000 / ' || u.value || ' = ' || round(1000 / u.value, 1) AS detail
  FROM unranged AS u JOIN handed.run_frames AS c ON c._row = u._row AND c.metric = u.metric
  WHERE abs(1000 / u.value - c.value) < 0.05 * c.value AND abs(u.value - c.value) > 0.5 * c.value
),
below AS (
  SELECT u.*, 'it is far below its own ' || l.other || ' of ' || l.other_value || '; 1000 / ' || u.value || ' = ' || round(1000 / u.value, 1)
    || ' would be above' AS detail
  FROM unranged AS u
  JOIN (FROM handed.low_pairs WHERE value < other_value / 4) AS l ON l._row = u._row AND l.metric = u.metric
  WHERE 1000 / u.value >= l.other_value
),
named AS MATERIALIZED (
  SELECT _row, rig, metric, value, detail FROM ranged
  UNION ALL SELECT _row, rig, metric, value, detail FROM captured
  UNION ALL SELECT _row, rig, metric, value, detail FROM below
),
whole AS (
  SELECT s.rig, s.metric FROM stated AS s
  SEMI JOIN named AS d ON d.rig = s.rig AND d.metric = s.metric
  LEFT JOIN (SELECT DISTINCT _row, metric FROM named) AS n ON n._row = s._row AND n.metric = s.metric
  GROUP BY s.rig, s.metric HAVING 2 * count(n._row) >= count(*)
),
beside AS (
  SELECT s._row, s.metric, s.value, 'most values of the column on rig ' || s.rig || ' are; 1000 / ' || s.value || ' = '
    || round(1000 / s.value, 1) AS detail
  FROM stated AS s JOIN whole AS w ON w.rig = s.rig AND w.metric = s.metric
  LEFT JOIN (
    SELECT l._row, max(l.value) AS value FROM handed.measurements AS l JOIN study.metrics AS lm ON lm.metric = l.metric
      AND lm.unit = 'fps' AND lm.tail_pct < 50 SEMI JOIN whole AS w ON w.rig = l.rig GROUP BY l._row
  ) AS low ON low._row = s._row
  WHERE low.value IS NULL OR 1000 / s.value >= low.value
)
SELECT _row, metric AS column_name, CAST(any_value(value) AS VARCHAR) AS value, min_by(detail, rank) AS detail
FROM (SELECT _row, metric, value, detail, 1 AS rank FROM named UNION ALL SELECT _row, metric, value, detail, 2 FROM beside)
GROUP BY _row, metric
