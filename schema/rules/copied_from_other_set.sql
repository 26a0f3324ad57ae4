-- A cell counts when its three or more runs have the values of a cell of another set, pass by pass, and differ among themselves.
-- Two such cells are asked for, or one whose values have four digits or more: fewer agree by chance. Frame times that agree to the
-- nanosecond, one after the other, never do.
SELECT _row, column_name, value, detail
FROM (
  SELECT min(m.first_row) AS _row, NULL AS column_name, t.set_id AS value,
    if(count(DISTINCT m.block) = 1, 'a cell has', count(DISTINCT m.block) || ' cells have') || ' the values of cells in the set ' || t.set_id AS detail
  FROM handed.blocks AS m JOIN admitted.blocks AS t ON m.readings = t.readings
  JOIN handed.runs AS r ON r._row = m.first_row AND r.workload = t.workload
  WHERE m.measured AND m.filled >= 3 AND m.differs
  GROUP BY t.set_id HAVING count(DISTINCT m.block) > 1 OR max(m.highest) >= 100
  UNION ALL
  SELECT min(r._row), 'capture_file', t.set_id,
    if(count(DISTINCT h.capture) = 1, 'a capture has', count(DISTINCT h.capture) || ' captures have') || ' the frame times of captures in the set ' || t.set_id
  FROM admitted.captures AS t JOIN handed.captures AS h USING (capture)
  JOIN handed.runs AS r USING (capture_file)
  GROUP BY t.set_id
)
ORDER BY ALL
