-- The sessions with their stack: all their versions as one text, and a short key for it.
CREATE TABLE handed.stacked AS
SELECT rig, session, min(stack) AS stack, hash(min(stack)) AS stack_key
FROM (
  SELECT
    rig,
    session,
    concat_ws(chr(31), firmware_version, driver_version, card_firmware_version, os, os_build, memory_speed_mts, profile)
      AS stack
  FROM handed.sessions
)
GROUP BY rig, session
