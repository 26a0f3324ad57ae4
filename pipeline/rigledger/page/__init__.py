"""The page of a release: one self-contained HTML file, made from its tables."""
