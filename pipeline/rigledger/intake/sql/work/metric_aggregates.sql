$count AS $runs,
  min($value) AS $lowest,
  max($value) AS $highest,
  avg(ln($positive)) AS $mean,
  var_samp(ln($positive)) AS $variance
