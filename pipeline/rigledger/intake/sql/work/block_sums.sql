-- One row a cell in its session over its measured runs, and one over its other runs but warm-ups: `readings` is the same for two of
-- them with the same values pass by pass, `passes_seen` is the number of different passes (of those above 62 at most one is
-- counted, so that it is never too many); then what is needed of each metric (blocks.py says of what is known beforehand).
CREATE TABLE handed.block_sums AS
SELECT b.* $ordered $same, s.stack_key
FROM (
  SELECT
    rig,
    session,
    workload,
    ${keys}resolution,
    level,
    ${measured}min(_row) AS first_row,
    count(*) AS runs,
    $passes AS passes,
    max(pass) AS last_pass,
    bit_count(bit_or(1::BIGINT << least(pass, 62))) AS passes_seen,
    $filled AS filled,
    bit_xor(hash(pass, $readings))$has_any AS readings,
    $aggregates
  FROM handed.runs
  WHERE role <> 'warm_up'
  GROUP BY ALL
) AS b
LEFT JOIN handed.stacked AS s USING (rig, session)
