"""The tables' statements on Apache Spark, for a hub that keeps more than one machine can read."""
