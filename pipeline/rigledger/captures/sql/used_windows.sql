-- The window of its capture that each run takes, in whole nanoseconds: DECIMAL takes the shortest decimal of a double.
select
    run, capture_file,
    cast(coalesce(from_s, 0)::decimal(28, 9) * 1000000000 as bigint) as from_ns,
    cast((coalesce(from_s, 0)::decimal(28, 9) + for_s::decimal(28, 9)) * 1000000000 as bigint) as to_ns,
    from_ns = 0 and to_ns is null as whole
from $windows
