-- The readings that more than one cell in its session has, over three values or more.
CREATE TABLE handed.repeated AS
SELECT readings
FROM handed.block_sums
WHERE measured AND filled >= 3
GROUP BY readings
HAVING count(*) > 1
