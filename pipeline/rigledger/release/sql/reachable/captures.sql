-- Captures that a run which is left uses.
SELECT * FROM captures WHERE capture IN (SELECT capture FROM runs)
