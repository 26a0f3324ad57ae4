SELECT s._row, 'consent_version' AS column_name, s.consent_version AS value, 'the study''s consent has version ' || g.consent_version AS detail
FROM handed.set AS s, study.settings AS g
WHERE s.consent_version <> g.consent_version
