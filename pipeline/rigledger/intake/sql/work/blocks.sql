-- One row a cell in its session, over its measured runs: `readings` is the same for two of them with the same values pass by pass,
-- `passes_seen` is the number of different passes (of those above 62 at most one is counted, so that it is never too many).
CREATE TABLE handed.blocks AS
SELECT
  block,
  any_value(cell) AS cell,
  min(_row) AS first_row,
  count(*) AS runs,
  count(pass) AS passes,
  bit_count(bit_or(1::UBIGINT << least(pass, 62))) AS passes_seen,
  count(*) FILTER ($filled) AS filled,
  bit_xor(hash(pass, $readings)) FILTER ($filled) AS readings,
  $differs AS differs,
  $highest AS highest
FROM handed.located
WHERE role = 'measured'
GROUP BY block
