"""After something changed: what rests on the old version, what to re-test, what moved."""
