-- The latest cell of each rig, workload, resolution, level and metric on the ln scale: its mean, and the squared half of its 95 %
-- interval over boots, in two parts: what its runs leave open, and what boots alone change. Two rigs are never in one session.
select
    cells.contributor, cells.rig, cells.stack, cells.workload, cells.title_build, cells.resolution, cells.level,
    cells.metric, cells.origin, cells.geometric_mean,
    ln(cells.geometric_mean) as ln_value,
    pow(statistics.ln_half_over_boots, 2) * (1 - statistics.boot_share) as run_squares,
    pow(statistics.ln_half_over_boots, 2) * statistics.boot_share as boot_squares,
    statistics.boot_common,
    statistics.session_basis
from work.measured_cells as cells
join work.cell_statistics as statistics using (contributor, metric, cell)
where not cells.ineffective
  and cells.insufficient_frames_runs = 0
qualify row_number() over (
    partition by cells.rig, cells.workload, cells.resolution, cells.level, cells.metric
    order by cells.last_boot desc, cells.last_position desc, cells.title_build desc
) = 1
