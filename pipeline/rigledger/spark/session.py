"""A session of Spark with the settings and functions that the statements rest on."""

from __future__ import annotations

import math
import os
import shutil
import sys
import warnings
from typing import TYPE_CHECKING

from rigledger.errors import MissingExtraError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from pyspark.sql import SparkSession

SETTINGS = {
    # A datetime is kept in UTC, and has no zone.
    "spark.sql.session.timeZone": "UTC",
    # An overflow is an error, never a wrong number.
    "spark.sql.ansi.enabled": "true",
    # A set's name that looks like a number is still a name.
    "spark.sql.sources.partitionColumnTypeInference.enabled": "false",
}
"""Settings without which the statements may mean something else."""

SMALL = {
    # Over few rows, compiling a query takes longer than running it.
    "spark.sql.codegen.wholeStage": "false",
    "spark.sql.codegen.factoryMode": "NO_CODEGEN",
    "spark.sql.adaptive.enabled": "false",
    "spark.sql.shuffle.partitions": "1",
}
"""Settings that save half the time of a small study."""


def local_session(folder: Path, *, threads: int = 2, memory: str = "2g") -> SparkSession:
    """Start Spark on this machine alone, to compare or to try; it starts fast and stays small.

    Args:
        folder: Where it may put what doesn't fit in memory.
        threads: Threads to use.
        memory: Memory of its Java process, as Spark spells it.

    Raises:
        MissingExtraError: The extra `spark` isn't installed, or there is no Java.
    """
    require_spark()
    from pyspark.sql import SparkSession

    os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
    settings = {
        "spark.driver.memory": memory,
        "spark.driver.host": "127.0.0.1",
        "spark.local.dir": str(folder),
        "spark.driver.extraJavaOptions": "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC",
        "spark.sql.warehouse.dir": str(folder / "warehouse"),
        "spark.ui.enabled": "false",
        "spark.ui.showConsoleProgress": "false",
        "spark.log.level": "ERROR",
    }
    builder = SparkSession.builder.master(f"local[{threads}]").appName("rigledger")
    for name, value in settings.items():
        builder = builder.config(name, value)
    with warnings.catch_warnings():
        # It warns of a pandas that it doesn't know yet; none is used here.
        warnings.simplefilter("ignore", FutureWarning)
        return prepared(builder.getOrCreate())


def sized(spark: SparkSession, *, small: bool) -> None:
    """Set a session to a few thousand runs, or back to whatever may come."""
    for name, value in SMALL.items():
        if small:
            spark.conf.set(name, value)
        else:
            spark.conf.unset(name)


def require_spark() -> None:
    """Refuse to go on without Spark.

    Raises:
        MissingExtraError: The extra `spark` isn't installed, or there is no Java.
    """
    try:
        import pyspark
        import sqlglot
    except ImportError as error:
        raise MissingExtraError(
            f"{error.name} is missing",
            next_step="install Spark too: pip install 'rigledger[curator,spark]'",
        ) from error
    del pyspark, sqlglot
    if not os.environ.get("JAVA_HOME") and shutil.which("java") is None:
        raise MissingExtraError(
            "Spark runs on Java, and there is none",
            next_step="install Java 17 or newer, or set JAVA_HOME to where it is",
        )


def prepared(spark: SparkSession) -> SparkSession:
    """Give a session, of one machine or of many, the settings and functions of the statements."""
    for name, value in SETTINGS.items():
        spark.conf.set(name, value)
    for name, function in C_FUNCTIONS.items():
        spark.udf.register(name, function, "double")
    return spark


def _ln(x: float | None) -> float | None:
    """Give the C library's logarithm; like DuckDB's, it refuses what has none."""
    return None if x is None else math.log(x)


def _exp(x: float | None) -> float | None:
    """Give the C library's exponential, infinite where it is beyond a double."""
    if x is None:
        return None
    try:
        return math.exp(x)
    except OverflowError:
        return math.inf


def _pow(x: float | None, y: float | None) -> float | None:
    """Give the C library's power, infinite where it is beyond a double."""
    if x is None or y is None:
        return None
    try:
        return math.pow(x, y)
    except OverflowError:
        return math.inf


C_FUNCTIONS: dict[str, Callable[..., float | None]] = {"c_ln": _ln, "c_exp": _exp, "c_pow": _pow}
"""Functions of the C library under the names that `rewritings` gives them.

DuckDB calls the same library; Java has functions of its own, which differ in the last digit.
"""
