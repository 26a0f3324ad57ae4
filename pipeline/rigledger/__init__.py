"""A reproducible-results data package for frame-rate measurements, with its pipeline."""

__version__ = "0.1.0"
