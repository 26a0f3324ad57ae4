SELECT s._row, 'round' AS column_name, CAST(s.round AS VARCHAR) AS value,
  'the study plans ' || g.rounds_planned || if(g.rounds_planned = 1, ' round and', ' rounds and') || ' allows ' || g.rounds_may_be_added || ' further' AS detail
FROM handed.sessions AS s, study.settings AS g
WHERE s.round > g.rounds_planned + g.rounds_may_be_added
