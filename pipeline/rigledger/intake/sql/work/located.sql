-- Every run with its values and two short keys that are cheap to group by: `cell` for the cell (its stack is all the versions of
-- the session), `block` for the cell in its session.
CREATE TABLE handed.located AS
SELECT
  r._row,
  r.role,
  r.pass,
  hash(r.rig, s.stack_key, r.own) AS cell,
  hash(r.rig, r.session, r.own) AS block,
  $metrics
FROM (SELECT *, hash(workload, title_build, resolution, level) AS own FROM handed.runs) AS r
LEFT JOIN handed.stacked AS s USING (rig, session)
