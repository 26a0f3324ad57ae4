-- One row per run and metric that counts, with the number of its cell within contributor and metric.
select
    candidates.contributor,
    candidates.metric,
    candidates.role,
    candidates.rig,
    candidates.stack,
    candidates.workload,
    candidates.title_build,
    candidates.resolution,
    candidates.level,
    candidates.run,
    candidates.session,
    candidates.boot,
    candidates.round,
    candidates.position,
    candidates.value,
    candidates.origin,
    coalesce(candidates.reported_step, 0) as reported_step,
    candidates.level_state,
    coalesce(run_frames.frames < metrics.fewest_frames, false) as insufficient_frames,
    case when pass_blocks.one_after_the_other then candidates.pass else -1 end as pass_block,
    dense_rank() over (
        partition by candidates.contributor, candidates.metric
        order by
            candidates.role, candidates.rig, candidates.stack, candidates.workload,
            candidates.title_build, candidates.resolution, candidates.level
    ) - 1 as cell
from work.candidates
join metrics using (metric)
left join work.run_frames using (run)
left join work.pass_blocks using (session, workload, title_build, resolution)
where candidates.value is not null
