"""The review's sentences as checkable claims: read, held against the derived tables, proposed.

`read.read_claims` reads claims.toml, `judge.judge_all` judges, `suggest.suggest` proposes. Judging
needs the curator's install.
"""
