-- The changes with what brought each: rows that hang on a session change with its set, or by a correction that names them.
WITH placed AS (
    SELECT
        *,
        regexp_extract(key, '^run=(\S+)', 1) AS run,
        CASE
            WHEN starts_with(key, 'run=') THEN regexp_extract(key, '^run=(\S+)\.[^. ]+', 1)
            WHEN starts_with(key, 'session=') THEN regexp_extract(key, '^session=(\S+)', 1)
        END AS session
    FROM changes
    WHERE "table" IN ('runs', 'measurements', 'sessions', 'facts')
),

in_sets AS (
    SELECT
        placed.*,
        sessions.set_id AS set_now,
        before.set_id AS set_before
    FROM placed
    LEFT JOIN sessions USING (session)
    LEFT JOIN _sessions_before AS before ON before.session = placed.session
),

explained AS (
    SELECT DISTINCT
        in_sets."table", in_sets.key, in_sets.change, in_sets.field,
        CASE
            WHEN set_now <> set_before
                THEN 'set ' || set_now || ' supersedes ' || set_before
            WHEN set_now IS NULL AND gone.state = 'withdrawn' THEN 'set ' || set_before || ' withdrawn'
            WHEN set_now IS NULL AND gone.state = 'superseded'
                THEN 'set ' || set_before || ' ' || gone.reason
            WHEN set_before IS NULL AND known.set_id IS NULL THEN 'set ' || set_now
            ELSE (
                SELECT 'correction ' || min(corrections.correction)
                FROM corrections
                WHERE corrections.session = in_sets.session
                  AND corrections.status = 'applied'
                  AND corrections.action <> 'mark'
                  AND (corrections.run IS NULL OR corrections.run = in_sets.run)
            )
        END AS because
    FROM in_sets
    LEFT JOIN sets AS gone ON gone.set_id = in_sets.set_before
    LEFT JOIN _sets_before AS known ON known.set_id = in_sets.set_now
)

SELECT changes.* REPLACE (coalesce(explained.because, CASE
    WHEN changes."table" = 'sets' AND changes.change = 'added'
        THEN 'set ' || substr(changes.key, length('set_id=') + 1)
END) AS because)
FROM changes
LEFT JOIN explained
    ON explained."table" = changes."table"
    AND explained.key = changes.key
    AND explained.change = changes.change
    AND explained.field IS NOT DISTINCT FROM changes.field
