-- Claims that held in the release before, don't now, and whose author hasn't said that they know.
SELECT claims.claim, claims.sentence, claims.verdict, claims.because
FROM changes
JOIN claims ON changes.key = 'claim=' || claims.claim
WHERE changes."table" = 'claims'
  AND changes.field = 'verdict'
  AND changes.was = 'holds'
  AND NOT claims.acknowledged
ORDER BY claims.claim
