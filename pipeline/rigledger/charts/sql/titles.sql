-- What a picture calls a workload: its title, or its id where another has that title too.
CREATE OR REPLACE TEMP VIEW chart_workloads AS
SELECT
    workload, setting_can_act,
    CASE
        WHEN count(*) OVER (PARTITION BY title) > 1 THEN workload
        ELSE title
    END AS title
FROM workloads
