-- One row per pair of rigs of one contributor and workload that both measured: the difference of ln value, and the squared
-- distances of its interval's ends. These come from the two intervals of the parts (method of variance estimates
-- recovery; Zou and Donner 2008, Stat Med 27:1693-1702).
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
    other.below_squares + one.above_squares as below_squares,
    other.above_squares + one.below_squares as above_squares,
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
