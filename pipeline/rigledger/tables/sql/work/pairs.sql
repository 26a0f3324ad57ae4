-- One row per comparison: two measured cells that differ in the level alone, for each contrast of the study.
select
    from_cells.contributor,
    from_cells.metric,
    row_number() over (
        partition by from_cells.contributor, from_cells.metric
        order by
            from_cells.rig, from_cells.stack, from_cells.workload, from_cells.title_build,
            from_cells.resolution, contrasts.contrast
    ) - 1 as pair,
    from_cells.rig,
    from_cells.stack,
    from_cells.workload,
    from_cells.title_build,
    from_cells.resolution,
    contrasts.contrast,
    contrasts.from_level,
    contrasts.to_level,
    from_cells.cell as from_cell,
    to_cells.cell as to_cell,
    from_cells.tried as from_tried,
    to_cells.tried as to_tried,
    from_cells.origin as from_origin,
    to_cells.origin as to_origin,
    from_cells.ineffective or to_cells.ineffective as ineffective,
    from_cells.insufficient_frames_runs + to_cells.insufficient_frames_runs > 0 as insufficient_frames,
    greatest(from_cells.last_boot, to_cells.last_boot) as last_boot,
    case
        when from_cells.last_boot = to_cells.last_boot
            then greatest(from_cells.last_position, to_cells.last_position)
        when from_cells.last_boot > to_cells.last_boot then from_cells.last_position
        else to_cells.last_position
    end as last_position
from work.measured_cells as from_cells
join contrasts on contrasts.from_level = from_cells.level
join work.measured_cells as to_cells
    on to_cells.metric = from_cells.metric
    and to_cells.alike = from_cells.alike
    and to_cells.level = contrasts.to_level
