count(pass) FILTER ($value > 0) AS $numbered,
  min(if(pass IS NOT NULL AND $value > 0, _row, NULL)) AS $first_row,
  arg_min(if($value > 0, $value, NULL), pass) AS $first,
  arg_max(if($value > 0, $value, NULL), pass) AS $last,
  min(if(pass IS NOT NULL AND $value > 0, $value, NULL), 2) AS $lowest_two
