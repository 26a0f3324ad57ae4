-- On what the change depends, one row per factor. q is the false discovery rate of Benjamini and Hochberg (1995, J R Stat Soc B
-- 57(1):289-300) over all tests of one contributor, metric and contrast.
select
    contributor,
    workload,
    resolution,
    contrast,
    metric,
    factor,
    rigs,
    platforms,
    cards,
    extent_pct,
    extent_low_95_pct,
    extent_high_95_pct,
    p,
    q,
    depends,
    "where",
    not_estimable
from work.factor_statistics
