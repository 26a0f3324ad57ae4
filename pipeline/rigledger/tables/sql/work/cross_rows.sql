-- The changes from which it is told on what they depend: rows of summaries, with the models of their rigs.
select
    rows_used.contributor, rows_used.workload, rows_used.resolution, rows_used.contrast, rows_used.metric,
    rigs.platform, rigs.card, rows_used.rig, rows_used.ln_change, rows_used.ln_half_90, rows_used.ln_half_95,
    rows_used.spread_pct is null as without_spread
from work.summary_rows as rows_used
join rigs on rigs.rig = rows_used.rig
