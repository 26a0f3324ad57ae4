SELECT r._row, 'role' AS column_name, r.role AS value,
  r.workload || if(w.setting_can_act, ' is no sentinel', ' is a sentinel') || ', its role is ' || r.role AS detail
FROM handed.runs AS r JOIN study.workloads AS w ON r.workload = w.workload
WHERE (r.role = 'sentinel' AND w.setting_can_act) OR (r.role = 'measured' AND w.kind = 'sentinel')
