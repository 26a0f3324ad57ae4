-- Share of the current comparisons with a direction that had another one in the earlier release, in per cent.
SELECT 100.0 * (
    SELECT count(*) FROM changes
    WHERE "table" = 'current_comparisons' AND field = 'direction' AND was IS NOT NULL AND becomes IS NOT NULL
) / greatest(1, (SELECT count(direction) FROM comparisons WHERE current))
