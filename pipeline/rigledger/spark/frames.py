"""Metrics of runs from frames in partitioned Parquet, on Spark."""

from __future__ import annotations

from pathlib import Path
from string import Template
from typing import TYPE_CHECKING

from rigledger.captures.metric_sql import parts_and_metrics, tail_share
from rigledger.captures.metrics import slowest_frames, statement
from rigledger.errors import StudyError
from rigledger.spark.shop import keep
from rigledger.spark.translate import translated

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pyspark.sql import SparkSession

    from rigledger.contract.model import Metric

_KEPT = ("reduced_runs", "frame_metrics")
_PARTS = {"whole_captures": "whole", "windows": "not whole"}
_SQL = Path(__file__).parent / "sql"


def make_frame_metrics(spark: SparkSession, metrics: Sequence[Metric], folder: Path) -> None:
    """Compute every metric that can be made from frames, for every run whose capture is here.

    Args:
        spark: A session with views of the source tables and of ``frames``; gets the view
            ``frame_metrics``: ``run``, ``metric``, ``value``, ``frames``, ``covered_ns``.
        metrics: Metrics of the contract; those that aren't made from frames are left out.
        folder: Where the rows are kept.

    Raises:
        StudyError: The table ``captures`` states fewer frames than a capture has.
    """
    longest = spark.sql(translated(_own("longest"))).collect()[0].longest
    for name, query in frame_queries(metrics, longest).items():
        rows = spark.sql(translated(query))
        if name not in _KEPT:
            rows.createOrReplaceTempView(name)
            continue
        keep(rows, folder, name)
        _refuse_longer(spark, longest)


def _refuse_longer(spark: SparkSession, longest: int) -> None:
    """Refuse a capture of which too few slow frames were kept."""
    found = spark.sql("SELECT MAX(n) AS most, MAX_BY(run, n) AS run FROM reduced_runs").collect()[0]
    if found.most is not None and found.most > longest:
        raise StudyError(
            f"the run {found.run} has {found.most} frames, the longest capture states {longest}",
            file="captures",
            column="frames",
            value=str(longest),
            next_step="write the tables and the frames again from the same study",
        )


def frame_queries(metrics: Sequence[Metric], longest: int) -> dict[str, str]:
    """Give the queries that lead from frames to metrics, in their order, in DuckDB's SQL.

    Args:
        metrics: Metrics of the contract.
        longest: Frames of the longest capture.

    Returns:
        Name of a view to the query that it shows.
    """
    chosen = [metric for metric in metrics if metric.from_frames]
    slowest = slowest_frames(longest, max(tail_share(metric) for metric in chosen))
    parts, rows = parts_and_metrics(chosen)
    reduced = [
        Template(statement(name)).substitute(scan=_within("scan", used=used), slowest=slowest)
        for name, used in _PARTS.items()
    ]
    return {
        "frame_metrics_places": _own("places"),
        "frame_metrics_windows": Template(statement("used_windows")).substitute(
            windows=_within("capture_windows")
        ),
        "reduced_runs": "\nunion all\n".join(reduced),
        "frame_metrics": Template(statement("frame_metrics")).substitute(
            reduced="select * from reduced_runs", parts=parts, metrics=rows
        ),
    }


def recompute_measurements(spark: SparkSession, folder: Path) -> None:
    """Put the values of ``frame_metrics`` into the view ``measurements``."""
    keep(spark.sql(translated(_own("measurements"))), folder, "measurements_recomputed")
    spark.table("measurements_recomputed").createOrReplaceTempView("measurements")


def _own(name: str) -> str:
    return (_SQL / f"{name}.sql").read_text(encoding="utf-8")


def _within(name: str, **parts: str) -> str:
    """Give a statement as a part of another one."""
    return f"({Template(_own(name)).substitute(parts)})"
