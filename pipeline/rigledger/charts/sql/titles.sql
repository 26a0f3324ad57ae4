-- What a picture calls a workload: its title, with the workload's id where another has it too.
CREATE OR REPLACE TEMP VIEW chart_workloads AS
SELECT
    workload, setting_can_act,
    CASE
        WHEN count(*) OVER (PARTITION BY title) > 1 THEN title || ' (' || workload || ')'
        ELSE title
    END AS title
FROM workloads
