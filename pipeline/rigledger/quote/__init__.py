"""Fills a review's draft: placeholders become figures, other numbers are pointed out.

`fill.fill_draft` does it, `desk.quote_file` reads and writes the files, and `record` says what a
correction changed.
"""
