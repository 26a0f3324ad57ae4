-- The measured runs with their cell and block.
CREATE VIEW handed.placed AS
SELECT _row, cell, block FROM handed.located WHERE role = 'measured'
