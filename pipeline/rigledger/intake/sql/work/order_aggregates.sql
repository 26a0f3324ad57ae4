$count AS $numbered,
  min($row) AS $first_row,
  arg_min($positive, pass) AS $first,
  arg_max($positive, pass) AS $last,
  $seen AS $values
