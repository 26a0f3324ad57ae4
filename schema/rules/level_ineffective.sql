SELECT min(r._row) AS _row, 'level_state' AS column_name, 'ineffective' AS value,
  r.level || ' was not in force in ' || count(*) || if(count(*) = 1, ' run of ', ' runs of ') || r.workload || ' on rig ' || r.rig || ', session ' || r.session AS detail
FROM handed.runs AS r JOIN study.levels AS l ON r.level = l.level
WHERE r.role = 'measured' AND r.level_state = 'ineffective' AND NOT l.may_vary
GROUP BY r.rig, r.session, r.level, r.workload
