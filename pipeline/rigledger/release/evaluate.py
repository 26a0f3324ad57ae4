"""Evaluates expectations on the rows of a file with great-expectations."""

from __future__ import annotations

import os
import warnings
from functools import cache
from typing import TYPE_CHECKING, Any

import duckdb

from rigledger.errors import MissingExtraError
from rigledger.release.errors import ReleaseError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

_KEPT = (
    "element_count", "missing_count", "observed_value", "unexpected_count", "unexpected_percent",
)  # fmt: skip


def outcomes(rows: str, asked: Sequence[Mapping[str, Any]]) -> dict[str, dict[str, Any]]:
    """Evaluate expectations.

    Args:
        rows: Path of a Parquet file with the rows and columns that they are about.
        asked: The expectations, as of `Expectation.as_dict`.

    Returns:
        Name of each to what was found, without what differs from run to run.

    Raises:
        ReleaseError: One could not be evaluated.
        MissingExtraError: great-expectations is not installed.
    """
    with warnings.catch_warnings():
        # Its own deprecations, and those of what it imports, are no concern of a release.
        warnings.simplefilter("ignore")
        gx, batch = great_expectations()
        suite = gx.ExpectationSuite(name="rows", expectations=[_made(gx, item) for item in asked])
        # The database that the package holds ready: to open one takes longer than to read.
        frame = duckdb.read_parquet(rows).df()
        outcome = batch.get_batch({"dataframe": frame}).validate(suite).to_json_dict()
    # Results come back in another order than expectations were given.
    named = {held["expectation_config"]["meta"]["name"]: held for held in outcome["results"]}
    return {item["name"]: result_of(item, named[item["name"]]) for item in asked}


def _made(gx: Any, item: Mapping[str, Any]) -> Any:  # noqa: ANN401 - the library ships no types
    kind = getattr(gx.expectations, item["expectation"])
    return kind(**item["arguments"], meta={"name": item["name"]})


@cache
def great_expectations() -> tuple[Any, Any]:
    """Load it and set it up once: nothing is kept, sent or drawn.

    Returns:
        The package, and a definition of a batch that takes any frame.

    Raises:
        MissingExtraError: It is not installed.
    """
    os.environ["GX_ANALYTICS_ENABLED"] = "false"
    try:
        import great_expectations as gx
        import great_expectations.expectations
        from great_expectations.data_context.types.base import ProgressBarsConfig
    except ImportError as error:
        raise MissingExtraError(
            "making a release needs great-expectations",
            next_step="pip install 'rigledger[curator]'",
        ) from error
    context = gx.get_context(mode="ephemeral")
    context.variables.progress_bars = ProgressBarsConfig(globally=False)
    source = context.data_sources.add_pandas("release")
    return gx, source.add_dataframe_asset("rows").add_batch_definition_whole_dataframe("all")


def result_of(item: Mapping[str, Any], outcome: Mapping[str, Any]) -> dict[str, Any]:
    """Keep of an outcome what is the same on every run; look at exceptions first.

    Raises:
        ReleaseError: The expectation could not be evaluated.
    """
    raised = exception_in(outcome.get("exception_info") or {})
    if raised:
        raise ReleaseError(
            f"the expectation could not be evaluated: {raised}",
            file=item["table"], column=item["name"],
            next_step="this is a fault of the program or of the tables' types, not of the data",
        )  # fmt: skip
    held = outcome["result"]
    return {
        "name": item["name"],
        "met": bool(outcome["success"]),
        "found": {
            key: value for key in _KEPT if (value := _plain(held.get(key))) not in (None, [])
        },
    }


def _plain(value: Any) -> Any:  # noqa: ANN401 - a number, a word, a list or an array of them
    """Give an array as a list: a column without values gives an empty one."""
    return value.tolist() if hasattr(value, "tolist") else value


def exception_in(info: Mapping[str, Any]) -> str | None:
    """Find a raised exception in both shapes that great-expectations uses."""
    if info.get("raised_exception"):
        return str(info.get("exception_message"))
    nested = (held for held in info.values() if isinstance(held, dict))
    return next(
        (str(h.get("exception_message")) for h in nested if h.get("raised_exception")), None
    )
