-- A measured run of a level that is said to be unsupported is named by that already.
SELECT max(r._row) AS _row, 'level_state' AS column_name, arg_max(r.level_state, r._row) AS value,
  r.level || ' of ' || r.workload || ' in session ' || r.session || ' of rig ' || r.rig || ' is ' ||
  string_agg(DISTINCT r.level_state, ' and ' ORDER BY r.level_state) AS detail
FROM handed.runs AS r JOIN study.levels AS l ON r.level = l.level
ANTI JOIN handed.found AS f ON f._table = 'runs' AND f._row = r._row AND f.column_name = 'level_state'
WHERE r.role = 'measured' AND r.level_state IN ('effective', 'ineffective', 'unsupported') AND NOT l.may_vary
GROUP BY r.rig, r.session, r.level, r.workload HAVING min(r.level_state) <> max(r.level_state)
