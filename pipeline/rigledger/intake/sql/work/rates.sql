-- The frame rates at which a title is often capped: common refresh rates, for any workload. A study's own caps are added.
CREATE TABLE handed.rates AS
SELECT NULL::VARCHAR AS workload, unnest([30, 60, 72, 75, 90, 100, 120, 144, 165, 180, 240, 280, 360, 480])::DOUBLE AS rate
