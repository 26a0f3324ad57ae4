    count($value) FILTER ($value > 0) AS $runs,
    min($value) AS $lowest,
    max($value) AS $highest,
    avg(ln($value)) FILTER ($value > 0) AS $mean,
    var_samp(ln($value)) FILTER ($value > 0) AS $variance
