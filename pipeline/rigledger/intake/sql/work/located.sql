-- Every run with a short key for its cell in its session.
CREATE VIEW handed.located AS
SELECT _row, role, pass, hash(rig, session, workload, title_build, resolution, level) AS block
FROM handed.runs
