-- One row per cell and metric with values that count, numbered from 0 within contributor and metric, so that nobody else's
-- cells can change a number.
with held as (
    select metric, tried
    from work.origins
    where usable > 0
)

select
    held.metric,
    cells.*,
    row_number() over (partition by cells.contributor, held.metric order by cells.tried) - 1 as cell
from held
join work.tried_cells as cells using (tried)
