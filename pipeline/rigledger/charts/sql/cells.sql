-- The cells that were measured, of each workload on the rig's newest stack and build.
WITH newest AS (
    SELECT rig, workload, resolution, title_build, stack, max(boot) AS boot
    FROM runs_wide
    WHERE role = 'measured'
    GROUP BY rig, workload, resolution, title_build, stack
    QUALIFY row_number() OVER (
        PARTITION BY rig, workload, resolution ORDER BY max(boot) DESC, stack, title_build
    ) = 1
)
SELECT
    cells.contributor, cells.rig, cells.platform, cells.card, cards.model AS card_model,
    cells.workload, workloads.title AS title, cells.resolution, cells.level, cells.metric,
    cells.unit, cells.runs, cells.sessions, cells.geometric_mean, cells.low_95, cells.high_95,
    cells.spread_pct, cells.moderated_spread_pct, cells.doubtful_runs
FROM cells
JOIN newest USING (rig, workload, resolution, title_build, stack)
JOIN chart_workloads AS workloads ON workloads.workload = cells.workload
JOIN cards ON cards.card = cells.card
JOIN levels ON levels.level = cells.level
WHERE cells.geometric_mean IS NOT NULL AND workloads.setting_can_act
ORDER BY workloads.title, cells.workload,
         CAST(split_part(cells.resolution, 'x', 1) AS INTEGER),
         CAST(split_part(cells.resolution, 'x', 2) AS INTEGER),
         cells.platform, cards.model, cells.rig, levels.rank, cells.metric
