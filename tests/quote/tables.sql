-- A few rows of derived tables; only the columns that figures come from.
create table workloads as
select workload, title, 'high' as preset, 'Vulkan 1.3' as graphics_api, 'a walk' as passage
from (values ('kippereen-deep', 'Kippereen Deep'), ('thrumgate-88', 'Thrumgate 88')) as t(workload, title);
create table metrics as
select * from (values ('average_fps', 'higher'), ('energy_j', 'lower')) as t(metric, direction);
create table platforms as
select 'q3' as platform, 'F 5' as family, 'Hurlen 5-12' as processor, 'M4' as board, '2 x 16 GB' as memory_kit;
create table cards as select 'brankelo-52' as card, 'Brankelo 52' as model;
create table rigs as select unnest(['a.q3-52', 'a.q3-94']) as rig;
create table levels as select unnest(['x16', 'x8']) as level, unnest(['sixteen lanes', 'eight lanes']) as title;
create table contrasts as select 'x8-against-x16' as contrast;
create table stacks as
select 'F7b' as firmware_version, '7.31.0' as driver_version, 'B1' as card_firmware_version, 'Plinth 9' as os,
       '9.4' as os_build, 'default' as profile;
create table contributors as select 'a' as contributor, 'Anna' as shown_name;
create table sets as
select * from (values ('a.first', 'a', 'admitted', null), ('zoe.first', 'zoe', 'withdrawn', 'wrong slot'))
    as t(set_id, contributor, state, reason);
create table runs_wide as
select
    'a.q3-52.1.' || n as run, 'a.q3-52.1' as session, 'a.q3-52' as rig, 'a' as contributor, 'q3' as platform,
    'brankelo-52' as card, 'kippereen-deep' as workload, 'Kippereen Deep' as title, '1920x1080' as resolution,
    'x16' as level, 'a.stack-1' as stack, '0.9.44' as title_build, 1 as boot, 'measured' as role
from range(3) as t(n);
create table cells as
select
    'a.q3-52' as rig, 'a' as contributor, 'q3' as platform, 'brankelo-52' as card, 'kippereen-deep' as workload,
    '1920x1080' as resolution, level, 'average_fps' as metric, stack, '0.9.44' as title_build, value as geometric_mean,
    low as low_95, high as high_95, 'fps' as unit, no_partner, 0 as doubtful_runs, runs
from (values
    ('x16', 'a.stack-1', 63.304e0, 62.5e0, 64.1e0, null, 3),
    ('x8', 'a.stack-1', 142.51e0, 141.2e0, 143.8e0, null, 3),
    ('x4', 'unknown', null, null, null, 'no_runs', 0)
) as t(level, stack, value, low, high, no_partner, runs);
create table comparisons as
select
    rig, 'a' as contributor, 'q3' as platform, 'brankelo-52' as card, workload, '1920x1080' as resolution,
    'x8-against-x16' as contrast, metric, 'a.stack-1' as stack, '0.9.44' as title_build, change_pct, low_95_pct,
    high_95_pct, direction, no_verdict, true as current, false as stale, 63.3e0 as from_value, 56.0e0 as to_value
from (values
    ('a.q3-52', 'kippereen-deep', 'average_fps', -11.64e0, -12.91e0, -10.34e0, 'loss', null),
    ('a.q3-52', 'thrumgate-88', 'average_fps', 0.02e0, -1.1e0, 1.2e0, 'not_shown', null),
    ('a.q3-52', 'kippereen-deep', 'energy_j', 3.21e0, 0.03e0, 6.4e0, 'loss', null),
    ('a.q3-94', 'kippereen-deep', 'average_fps', 1.53e0, 0.2e0, 2.9e0, 'gain', null),
    ('a.q3-94', 'thrumgate-88', 'average_fps', -2.0e0, -4.0e0, 0.1e0, null, 'confounded')
) as t(rig, workload, metric, change_pct, low_95_pct, high_95_pct, direction, no_verdict);
create table overall as
select
    'a.q3-52' as rig, 'a' as contributor, 'q3' as platform, 'brankelo-52' as card, '1920x1080' as resolution,
    'x8-against-x16' as contrast, 'average_fps' as metric, 'all' as title_set, -6.05e0 as change_pct,
    -7.0e0 as these_low_95_pct, -5.0e0 as these_high_95_pct, 2 as titles, 6 as titles_missing;
create table rig_comparisons as
select
    'a.q3-52' as from_rig, 'a.q3-94' as to_rig, 'all-shared' as workload, '1920x1080' as resolution, 'x16' as level,
    'average_fps' as metric, 'a' as contributor, 2 as titles, null as differs_in, 100.0e0 as difference_pct,
    90.0e0 as low_95_pct, 110.0e0 as high_95_pct;
