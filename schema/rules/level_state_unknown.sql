SELECT min(_row) AS _row, 'level_state' AS column_name, 'unknown' AS value,
  'the state of ' || level || ' was not seen in ' || count(*) || if(count(*) = 1, ' run of ', ' runs of ') || 'rig ' || rig || ', session ' || session AS detail
FROM handed.runs WHERE role = 'measured' AND level_state = 'unknown'
GROUP BY rig, session, level
