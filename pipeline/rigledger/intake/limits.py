"""The gate's limits, under the name that intake's modules know."""

from rigledger.contract.limits import limit, megabytes, named

__all__ = ["limit", "megabytes", "named"]
