-- The result sets and what became of them.
SELECT set_id, state, received_on, licence, sha256, reason FROM sets ORDER BY set_id
