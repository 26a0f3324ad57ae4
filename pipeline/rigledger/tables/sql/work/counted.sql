-- One row per measured or sentinel run and metric that counts: it has a usable value of its cell's origin.
with placed as (
    select
        trials.* exclude (pass, alike, boot, round),
        case when pass_blocks.one_after_the_other then trials.pass else -1 end as pass_block
    from work.trials
    join work.pass_blocks using (session, alike)
)

select
    origins.metric,
    placed.tried,
    placed.run,
    placed.session,
    placed.position,
    case origins.origin when 'recomputed' then run_values.recomputed else run_values.reported end as value,
    origins.origin,
    case origins.origin when 'reported' then coalesce(run_values.reported_step, 0) else 0 end as reported_step,
    placed.level_state,
    placed.level_state in ('ineffective', 'unsupported') as ineffective,
    coalesce(placed.frames < metrics.fewest_frames, false) as insufficient_frames,
    placed.pass_block
from work.run_values
join placed using (run)
join work.origins on origins.tried = placed.tried and origins.metric = run_values.metric
join metrics on metrics.metric = run_values.metric
where case origins.origin when 'recomputed' then run_values.recomputed else run_values.reported end > 0
