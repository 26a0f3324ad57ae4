-- One row per rig, resolution, contrast, metric, title set and title of the set, with the title's comparison if there is one.
with asked as (
    select distinct judged.rig, judged.resolution, judged.contrast, judged.metric, title_sets.title_set
    from work.judged
    join work.title_sets using (workload)
)

select
    asked.rig, asked.resolution, asked.contrast, asked.metric, title_sets.title_set, title_sets.workload,
    rows_used.contributor, rows_used.pair, rows_used.stack, rows_used.ln_change, rows_used.ln_half_90,
    rows_used.ln_half_95, rows_used.session_share, rows_used.session_common
from asked
join work.title_sets using (title_set)
left join work.summary_rows as rows_used
    on rows_used.rig = asked.rig
    and rows_used.resolution = asked.resolution
    and rows_used.contrast = asked.contrast
    and rows_used.metric = asked.metric
    and rows_used.workload = title_sets.workload
