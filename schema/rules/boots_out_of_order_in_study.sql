SELECT s._row, 'boot' AS column_name, CAST(s.boot AS VARCHAR) AS value,
  'boot ' || s.boot || ' of rig ' || s.rig || ' is dated ' || s.started_on || ', boot ' || min(a.boot) || ' in the set '
    || min_by(a.set_id, a.boot) || ' is dated ' || min_by(a.started_on, a.boot) AS detail
FROM handed.sessions AS s JOIN admitted.sessions AS a ON a.rig = s.rig
JOIN handed.set AS h ON a.contributor = h.contributor
WHERE (s.boot > a.boot AND s.started_on < a.started_on) OR (s.boot < a.boot AND s.started_on > a.started_on)
GROUP BY s._row, s.boot, s.rig, s.started_on
