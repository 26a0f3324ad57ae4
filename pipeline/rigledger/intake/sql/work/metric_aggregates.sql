count($value) FILTER ($value > 0) AS $runs,
  min($value) AS $lowest,
  max($value) AS $highest,
  avg(if($value > 0, ln($value), NULL)) AS $mean,
  var_samp(if($value > 0, ln($value), NULL)) AS $variance
