-- One row per run and metric that counts.
select
    candidates.metric,
    candidates.tried,
    candidates.run,
    candidates.session,
    candidates.boot,
    candidates.round,
    candidates.position,
    candidates.value,
    candidates.origin,
    coalesce(candidates.reported_step, 0) as reported_step,
    candidates.level_state,
    candidates.level_state in ('ineffective', 'unsupported') as ineffective,
    coalesce(run_frames.frames < metrics.fewest_frames, false) as insufficient_frames,
    case when pass_blocks.one_after_the_other then candidates.pass else -1 end as pass_block
from work.candidates
join metrics using (metric)
join work.run_frames using (run)
join work.pass_blocks using (session, alike)
where candidates.value is not null
