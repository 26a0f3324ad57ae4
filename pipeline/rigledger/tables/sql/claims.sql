-- The review's sentences, held against the tables made before.
select * from work.judged_claims
