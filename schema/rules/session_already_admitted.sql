SELECT s._row, 'boot' AS column_name, CAST(s.boot AS VARCHAR) AS value,
  'rig ' || s.rig || ' has boot ' || a.boot || ' as session ' || a.session || ' in the set ' || a.set_id AS detail
FROM handed.sessions AS s JOIN admitted.sessions AS a ON a.rig = s.rig AND (a.boot = s.boot OR a.session = s.session)
JOIN handed.set AS h ON a.contributor = h.contributor
