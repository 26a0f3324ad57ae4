-- Each rig's current comparison beside the one that was current before: what it said and says, where direction, size, the
-- reason for no verdict, stack or build differ.
WITH before AS (
    SELECT * FROM _comparisons_before WHERE current = 'true'
),

both_sides AS (
    SELECT
        'rig=' || now.rig || ' workload=' || now.workload || ' resolution=' || now.resolution
        || ' contrast=' || now.contrast || ' metric=' || now.metric AS key,
        before.stack AS stack_was, now.stack,
        before.title_build AS title_build_was, now.title_build,
        before.direction AS direction_was, now.direction,
        before.size AS size_was, now.size,
        before.no_verdict AS no_verdict_was, now.no_verdict,
        format('{:+.1f}', CAST(before.change_pct AS DOUBLE)) AS change_pct_was,
        format('{:+.1f}', now.change_pct) AS change_pct
    FROM comparisons AS now
    JOIN before
        ON before.rig = now.rig
        AND before.workload = now.workload
        AND before.resolution = now.resolution
        AND before.contrast = now.contrast
        AND before.metric = now.metric
    WHERE now.current
),

moved AS (
    SELECT * FROM both_sides
    WHERE (stack, title_build, direction, size, no_verdict) IS DISTINCT FROM
        (stack_was, title_build_was, direction_was, size_was, no_verdict_was)
),

listed AS (
    SELECT key, 'change_pct' AS field, change_pct_was AS was, change_pct AS becomes FROM moved
    UNION ALL
    SELECT key, 'direction', direction_was, direction FROM moved
    UNION ALL
    SELECT key, 'size', size_was, size FROM moved
    UNION ALL
    SELECT key, 'no_verdict', no_verdict_was, no_verdict FROM moved
    UNION ALL
    SELECT key, 'stack', stack_was, stack FROM moved
    UNION ALL
    SELECT key, 'title_build', title_build_was, title_build FROM moved
)

SELECT key, 'changed' AS change, field, was, becomes, NULL AS because
FROM listed
WHERE was IS DISTINCT FROM becomes
ORDER BY key, field
