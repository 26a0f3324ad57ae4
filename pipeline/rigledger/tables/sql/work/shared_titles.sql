-- One row per pair of rigs of one contributor and workload that both measured: the difference of ln value, and the squared half of
-- its interval, in what the runs leave open and what the boots of either rig change. The squares of the parts' intervals
-- add up (method of variance estimates recovery; Zou and Donner 2008, Stat Med 27:1693-1702).
select
    one.rig as from_rig,
    other.rig as to_rig,
    one.workload,
    one.resolution,
    one.level,
    one.metric,
    one.contributor,
    one.ln_value as from_ln,
    other.ln_value as to_ln,
    other.ln_value - one.ln_value as ln_difference,
    one.run_squares + other.run_squares as run_squares,
    one.boot_squares as from_boot_squares,
    other.boot_squares as to_boot_squares,
    one.boot_common,
    one.session_basis,
    case
        when one.title_build = other.title_build then changed.fields
        else list_append(changed.fields, 'title_build')
    end as differing
from work.cell_bounds as one
join work.cell_bounds as other
    on other.contributor = one.contributor
    and other.workload = one.workload
    and other.resolution = one.resolution
    and other.level = one.level
    and other.metric = one.metric
    and other.origin = one.origin
    and other.rig > one.rig
join work.stack_differences as changed
    on changed.from_stack = one.stack and changed.to_stack = other.stack
