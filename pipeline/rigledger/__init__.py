"""rigledger: a reproducible-results data package for frame-rate measurements, with its validation pipeline."""

__version__ = "0.1.0"
