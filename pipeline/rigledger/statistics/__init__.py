"""Pure functions on arrays: no files, no tables, no database.

Values are natural logarithms of a metric unless a docstring says otherwise; a change in
percent is ``100 * (exp(mean difference) - 1)``.
"""
