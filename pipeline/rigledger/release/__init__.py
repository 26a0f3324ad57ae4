"""Publishing: writes a release of a study, and rebuilds and rechecks one."""
