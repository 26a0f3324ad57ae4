-- The comparisons that summaries may use: the latest of their kind, of workloads on which the setting can act, with both
-- levels in force in one block, nothing confounded and enough frames. A metric without a better side still has a change.
select judged.*
from work.judged
join workloads on workloads.workload = judged.workload
where judged.current
  and workloads.setting_can_act
  and judged.change_pct is not null
  and not judged.ineffective
  and not judged.insufficient_frames
  and judged.confounded_by is null
  and judged.no_verdict is distinct from 'no_blocks'
