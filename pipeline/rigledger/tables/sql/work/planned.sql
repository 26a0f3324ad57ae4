-- One row per planned cell and metric, and whether it was measured on any stack and build.
select
    plan.rig, plan.workload, plan.resolution, plan.level, plan.metric, plan.runs_required,
    exists (
        select 1
        from work.measured_cells as cells
        where cells.rig = plan.rig
          and cells.workload = plan.workload
          and cells.resolution = plan.resolution
          and cells.level = plan.level
          and cells.metric = plan.metric
    ) as measured
from work.plan
