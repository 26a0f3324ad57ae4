-- The sentences of the review, held against the data.
SELECT claim, sentence, stated, found, verdict, because, narrowest, acknowledged, reason
FROM claims
ORDER BY claim
