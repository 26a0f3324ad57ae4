-- The resolutions of a set with their pixels.
CREATE TABLE handed.resolutions AS
SELECT DISTINCT
  resolution,
  TRY_CAST(split_part(resolution, 'x', 1) AS BIGINT) * TRY_CAST(split_part(resolution, 'x', 2) AS BIGINT) AS pixels
FROM handed.mixes
