min($value) AS $lowest,
  max($value) AS $highest
