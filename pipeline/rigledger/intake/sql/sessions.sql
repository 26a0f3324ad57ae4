-- Versions are replaced by the name of their stack (the same expression as in stacks.sql); times are in UTC already.
SELECT
  s.contributor || '.' || h.rig || '.' || h.session AS session,
  s.contributor || '.' || s.set AS set_id,
  s.contributor || '.' || h.rig AS rig,
  s.contributor || '.stack-' || sha256(
    firmware_version || chr(31) || driver_version || chr(31) || card_firmware_version || chr(31) || os || chr(31)
    || os_build || chr(31) || coalesce(CAST(memory_speed_mts AS VARCHAR), '') || chr(31) || profile
  )[:12] AS stack,
  h.boot,
  h.round,
  h.started_on,
  date_trunc('second', h.started_at) AS started_at
FROM handed.sessions AS h, handed.set AS s
