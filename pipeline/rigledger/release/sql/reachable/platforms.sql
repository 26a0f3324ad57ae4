-- Platforms of the rigs that are left.
SELECT * FROM platforms WHERE platform IN (SELECT platform FROM rigs)
