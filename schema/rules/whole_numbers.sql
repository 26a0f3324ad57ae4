SELECT min(m._row) AS _row, m.metric AS column_name, NULL AS value,
  'all ' || count(*) || ' values of ' || m.metric || ' on rig ' || m.rig || ' are whole numbers' AS detail
FROM handed.measurements AS m JOIN study.metrics AS q ON q.metric = m.metric AND q.unit = 'fps'
ANTI JOIN (SELECT DISTINCT rig, metric FROM handed.cell_values WHERE lowest <> round(lowest)) AS f
  ON f.rig = m.rig AND f.metric = m.metric
GROUP BY m.rig, m.metric HAVING count(*) >= 6 AND bool_and(m.value = round(m.value)) AND median(m.value) < 1000
