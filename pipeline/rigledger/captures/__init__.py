"""Frame times to metrics: captures are read, kept under their hash and reduced in DuckDB."""
