-- What else is stated of a session: one row a fact, in place of one column a fact.
SELECT s.contributor || '.' || f.rig || '.' || f.session AS session, f.fact, f.value, f.unit
FROM handed.facts AS f, handed.set AS s
