-- The latest cell of each rig, workload, resolution, level and metric on the ln scale: its mean, and how far the ends of its
-- interval lie below and above it. Where a cell rests on one session, what a boot alone changes is added.
select
    cells.contributor, cells.rig, cells.stack, cells.workload, cells.title_build, cells.resolution, cells.level,
    cells.metric, cells.origin, cells.geometric_mean,
    ln(cells.geometric_mean) as ln_value,
    pow(ln(cells.geometric_mean / statistics.low_95), 2) + session_squares as below_squares,
    pow(ln(statistics.high_95 / cells.geometric_mean), 2) + session_squares as above_squares,
    statistics.session_basis
from work.measured_cells as cells
join (
    select
        *,
        case
            when sessions > 1 then 0
            -- 1.96 normal standard deviations, as in a 95 % interval
            else pow(1.959963984540054 * session_sd, 2)
        end as session_squares
    from work.cell_statistics
) as statistics using (contributor, metric, cell)
where not cells.ineffective
  and cells.insufficient_frames_runs = 0
qualify row_number() over (
    partition by cells.rig, cells.workload, cells.resolution, cells.level, cells.metric
    order by cells.last_boot desc, cells.last_position desc, cells.title_build desc
) = 1
