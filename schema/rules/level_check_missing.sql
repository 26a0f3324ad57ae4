SELECT min(_row) AS _row, 'level_check' AS column_name, NULL AS value,
  level || ' is called ' || level_state || ' without a word how in ' || count(*) || if(count(*) = 1, ' run of ', ' runs of ') || 'rig ' || rig || ', session ' || session AS detail
FROM handed.runs
WHERE role = 'measured' AND level_state IN ('effective', 'ineffective') AND coalesce(trim(level_check), '') = ''
GROUP BY rig, session, level, level_state
