-- Every run with what its session says: boot, round, day and the stack it ran on (all its versions as one text).
CREATE VIEW handed.placed AS
SELECT
  r.*,
  s.boot,
  s.round,
  s.started_on,
  s.stack
FROM handed.runs AS r
LEFT JOIN (
  SELECT
    rig,
    session,
    boot,
    round,
    started_on,
    concat_ws(chr(31), firmware_version, driver_version, card_firmware_version, os, os_build, memory_speed_mts, profile)
      AS stack
  FROM handed.sessions
) AS s USING (rig, session)
