-- The measured runs, with two short keys that are cheap to group by: `cell` for the cell (its stack is all the versions of the
-- session), `block` for the cell in its session.
CREATE TABLE handed.placed AS
SELECT
  r._row,
  hash(r.rig, s.stack, r.workload, r.title_build, r.resolution, r.level) AS cell,
  hash(r.rig, r.session, r.workload, r.title_build, r.resolution, r.level) AS block
FROM handed.runs AS r
LEFT JOIN handed.stacked AS s USING (rig, session)
WHERE r.role = 'measured'
