-- The same as cells.sql where no cell was measured in two sessions: then its rows are those of block_sums.
CREATE VIEW handed.cells AS
SELECT *, first_row AS cell, runs >= 3 AND $alike AS alike
FROM handed.block_sums
WHERE measured
