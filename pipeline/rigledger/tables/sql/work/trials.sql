-- One row per measured or sentinel run, with the number of its cell.
select
    runs.run,
    runs.session,
    runs.boot,
    runs.round,
    runs.pass,
    runs.position,
    runs.level_state,
    runs.frames,
    cells.tried,
    cells.alike
from work.runs_in_force as runs
join work.tried_cells as cells
    on cells.role = runs.role
    and cells.rig = runs.rig
    and cells.stack = runs.stack
    and cells.workload = runs.workload
    and cells.title_build = runs.title_build
    and cells.resolution = runs.resolution
    and (cells.level = runs.level or cells.role = 'sentinel')
