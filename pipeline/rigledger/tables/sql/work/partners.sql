-- For each measured cell without any comparison, why: the nearest miss over the contrasts that name its level.
with wanted as (
    select cells.*, contrasts.to_level as other_level
    from work.measured_cells as cells
    join contrasts on contrasts.from_level = cells.level
    union all
    select cells.*, contrasts.from_level as other_level
    from work.measured_cells as cells
    join contrasts on contrasts.to_level = cells.level
),

not_possible as (
    select distinct rig, workload, resolution, level
    from work.runs_in_force
    where role = 'not_possible'
),

others as (
    select
        wanted.contributor, wanted.metric, wanted.cell,
        coalesce(bool_or(
            other.stack = wanted.stack and other.title_build = wanted.title_build
        ), false) as partner,
        coalesce(bool_or(other.stack = wanted.stack), false) as same_stack,
        count(other.cell) > 0 as measured,
        count(not_possible.rig) > 0 as not_possible
    from wanted
    left join work.measured_cells as other
        on other.rig = wanted.rig
        and other.workload = wanted.workload
        and other.resolution = wanted.resolution
        and other.metric = wanted.metric
        and other.level = wanted.other_level
    left join not_possible
        on not_possible.rig = wanted.rig
        and not_possible.workload = wanted.workload
        and not_possible.resolution = wanted.resolution
        and not_possible.level = wanted.other_level
    group by wanted.contributor, wanted.metric, wanted.cell
)

select
    cells.contributor, cells.metric, cells.cell,
    case
        when others.partner is null then 'no_contrast'
        when others.partner then null
        when others.same_stack then 'other_build'
        when others.measured then 'other_stack'
        when others.not_possible then 'not_possible'
        else 'not_measured'
    end as no_partner
from work.measured_cells as cells
left join others using (contributor, metric, cell)
