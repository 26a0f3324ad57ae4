-- The measured runs, with their stack (all versions of the session as one text) and two short keys that are cheap to group
-- by: `cell` for the cell, `block` for the cell in its session.
CREATE TABLE handed.placed AS
SELECT
  r._row,
  hash(r.rig, s.stack, r.workload, r.title_build, r.resolution, r.level) AS cell,
  hash(r.rig, r.session, r.workload, r.title_build, r.resolution, r.level) AS block,
  s.stack
FROM handed.runs AS r
LEFT JOIN (
  SELECT
    rig,
    session,
    concat_ws(chr(31), firmware_version, driver_version, card_firmware_version, os, os_build, memory_speed_mts, profile)
      AS stack
  FROM handed.sessions
) AS s USING (rig, session)
WHERE r.role = 'measured'
