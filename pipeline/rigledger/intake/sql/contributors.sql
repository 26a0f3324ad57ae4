-- One row: who hands the set in.
SELECT contributor, shown_name, public_key, related_to
FROM handed.set
