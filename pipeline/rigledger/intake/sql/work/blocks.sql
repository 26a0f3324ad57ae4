-- One row a cell in its session over its measured runs, and one over its other runs but warm-ups: `readings` is the same for two of
-- them with the same values pass by pass, `passes_seen` is the number of different passes (of those above 62 at most one is counted,
-- so that it is never too many).
CREATE TABLE handed.blocks AS
SELECT
  block,
  role = 'measured' AS measured,
  any_value(cell) AS cell,
  min(_row) AS first_row,
  count(*) AS runs,
  count(pass) AS passes,
  max(pass) AS last_pass,
  bit_count(bit_or(1::UBIGINT << least(pass, 62))) AS passes_seen,
  count(*) FILTER ($filled) AS filled,
  bit_xor(hash(pass, $readings)) FILTER ($filled) AS readings,
  $differs AS differs,
  $highest AS highest
FROM handed.located
WHERE role <> 'warm_up'
GROUP BY block, role = 'measured'
