-- Captures named by the hash of their frame times; a capture that two runs share is one row.
SELECT DISTINCT capture, frames, total_ns, state
FROM handed.captures
