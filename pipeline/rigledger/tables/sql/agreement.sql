-- How each rig's change agrees with those of other contributors with the same platform and card.
select
    platform, card, workload, resolution, contrast, metric, rig, contributor, counted_as, method, against, contributors,
    stack_family, differs_in, change_pct, against_change_pct, difference_pct, low_95_pct, high_95_pct, q, h, k,
    robust_z, flagged
from work.agreement_rows
