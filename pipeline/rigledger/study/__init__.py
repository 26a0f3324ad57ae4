"""A study on disk: design, admitted sets, decisions, corrections; run sheet and kit."""
