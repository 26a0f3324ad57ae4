-- The names of the study's that a set uses, of each kind once.
CREATE $kind handed.names AS
SELECT DISTINCT 'platform' AS kind, platform AS name FROM handed.rigs WHERE platform IS NOT NULL
UNION ALL SELECT DISTINCT 'card', card FROM handed.rigs WHERE card IS NOT NULL
UNION ALL SELECT DISTINCT 'workload', workload FROM handed.mixes WHERE workload IS NOT NULL
UNION ALL SELECT DISTINCT 'level', level FROM handed.mixes WHERE level IS NOT NULL
