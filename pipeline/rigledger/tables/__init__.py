"""The derived tables: one readable .sql file each, and the statistics they need.

`build.build_tables` is the one way in. It needs the curator's install.
"""
