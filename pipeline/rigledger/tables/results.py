"""From the arrays of the statistics to rows of the tables of ``work``.

A number that doesn't exist is masked in the arrays and blank in the rows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from rigledger.statistics.outputs import NOT_REACHABLE

if TYPE_CHECKING:
    from rigledger.statistics.inputs import BoolArray, FloatArray, IntArray
    from rigledger.statistics.outputs import (
        Analysis,
        CellStatistics,
        ComparisonArrays,
        SessionComponent,
        SpreadModel,
    )
    from rigledger.tables.analysis import Part

_NAMES = {"contributor": pl.String(), "metric": pl.String()}
_CELLS = _NAMES | {
    "cell": pl.Int64(),
    "sessions": pl.Int64(),
    "low_95": pl.Float64(),
    "high_95": pl.Float64(),
    "moderated_spread_pct": pl.Float64(),
    "ln_half_over_boots": pl.Float64(),
    "boot_share": pl.Float64(),
    "boot_common": pl.Float64(),
    "session_basis": pl.String(),
}
_PAIRS = _NAMES | {
    "pair": pl.Int64(),
    "change_pct": pl.Float64(),
    "low_95_pct": pl.Float64(),
    "high_95_pct": pl.Float64(),
    "low_90_pct": pl.Float64(),
    "high_90_pct": pl.Float64(),
    "low_decision_pct": pl.Float64(),
    "high_decision_pct": pl.Float64(),
    "ln_change": pl.Float64(),
    "ln_half_90": pl.Float64(),
    "ln_half_95": pl.Float64(),
    "session_share": pl.Float64(),
    "session_common": pl.Float64(),
    "direction": pl.String(),
    "size": pl.String(),
    "p_direction": pl.Float64(),
    "p_size": pl.Float64(),
    "design": pl.String(),
    "sessions": pl.Int64(),
    "blocks": pl.Int64(),
    "session_basis": pl.String(),
    "one_session": pl.Boolean(),
    "rounds_used": pl.Int64(),
    "spread_pct": pl.Float64(),
    "moderated_spread_pct": pl.Float64(),
    "runs_needed": pl.Int64(),
    "sessions_needed": pl.Int64(),
}
_PARAMETERS = _NAMES | {
    "parameter": pl.String(),
    "value": pl.Float64(),
    "basis": pl.String(),
    "model_version": pl.String(),
    "cells": pl.Int64(),
}
_DOUBTS = _NAMES | {"run": pl.String()}


_SCHEMAS: Mapping[str, Mapping[str, pl.DataType]] = {
    "cell_statistics": _CELLS,
    "pair_statistics": _PAIRS,
    "spread_parameters": _PARAMETERS,
    "doubtful_runs": _DOUBTS,
}

Rows = Mapping[str, pl.DataFrame]
"""Rows of each table of the statistics."""


@dataclass
class CollectedResults:
    """Rows of all contributors and metrics so far, table by table."""

    _held: list[Rows] = field(default_factory=list)

    def add(self, rows: Rows) -> None:
        """Take in the results of one contributor and metric."""
        self._held.append(rows)

    def frames(self) -> dict[str, pl.DataFrame]:
        """Give the tables, with their columns even where they have no rows."""
        return {
            name: pl.concat([pl.DataFrame(schema=schema), *(rows[name] for rows in self._held)])
            for name, schema in _SCHEMAS.items()
        }


def rows_of(part: Part, analysis: Analysis, doubtful: pl.Series) -> Rows:
    """Give the results of one contributor and metric."""
    return {
        "cell_statistics": _cell_rows(part, analysis),
        "pair_statistics": _pair_rows(part, analysis.comparisons),
        "spread_parameters": _parameter_rows(part, analysis.model),
        "doubtful_runs": _frame(part, {"run": doubtful}, _DOUBTS),
    }


def as_plain(rows: Rows) -> dict[str, dict[str, list[Any]]]:
    """Give rows as JSON takes them, column by column; numbers keep every bit."""
    return {name: frame.to_dict(as_series=False) for name, frame in rows.items()}


def as_rows(plain: Mapping[str, Mapping[str, list[Any]]]) -> Rows:
    """Give what `as_plain` turned to JSON as rows again."""
    return {name: pl.DataFrame(plain[name], schema=schema) for name, schema in _SCHEMAS.items()}


def _frame(
    part: Part, columns: Mapping[str, object], schema: Mapping[str, pl.DataType]
) -> pl.DataFrame:
    named = pl.DataFrame(columns).with_columns(
        pl.lit(part.contributor).alias("contributor"), pl.lit(part.metric).alias("metric")
    )
    return named.select(pl.col(name).cast(kind) for name, kind in schema.items())


def _where(values: FloatArray | IntArray, known: BoolArray) -> pl.Series:
    """Blank the numbers that don't exist."""
    return pl.Series(values).set(pl.Series(~known), None)


def _cell_rows(part: Part, analysis: Analysis) -> pl.DataFrame:
    cells: CellStatistics = analysis.cells
    columns = {
        "cell": part.cells["cell"],
        "sessions": cells.sessions,
        "low_95": _where(cells.low95, cells.has_mean),
        "high_95": _where(cells.high95, cells.has_mean),
        "moderated_spread_pct": cells.moderated_spread_pct,
        "ln_half_over_boots": cells.ln_half_over_boots,
        "boot_share": cells.boot_share,
        "boot_common": cells.boot_common,
        "session_basis": np.full(len(cells.runs), analysis.model.cell_sessions.basis),
    }
    return _frame(part, columns, _CELLS)


def _pair_rows(part: Part, rows: ComparisonArrays) -> pl.DataFrame:
    columns = _pair_numbers(rows) | {
        "pair": part.pairs["pair"],
        "direction": rows.direction,
        "size": rows.size,
        "p_direction": rows.p_direction,
        "p_size": rows.p_size,
        "design": rows.design,
        "sessions": rows.sessions,
        "blocks": rows.blocks,
        "session_basis": rows.session_basis,
        "one_session": rows.one_session,
        "rounds_used": rows.rounds_used,
        "spread_pct": _where(rows.raw_spread_pct, rows.has_raw_spread),
        "moderated_spread_pct": rows.moderated_spread_pct,
        "runs_needed": _where(rows.runs_still_needed, _still(rows.runs_still_needed)),
        "sessions_needed": _where(rows.sessions_still_needed, _still(rows.sessions_still_needed)),
    }
    return _frame(part, columns, _PAIRS)


def _pair_numbers(rows: ComparisonArrays) -> dict[str, FloatArray]:
    """Changes and intervals, in per cent and on the ln scale."""
    return {
        "change_pct": rows.change_pct,
        "low_95_pct": rows.low95,
        "high_95_pct": rows.high95,
        "low_90_pct": rows.low90,
        "high_90_pct": rows.high90,
        "low_decision_pct": rows.low_decision,
        "high_decision_pct": rows.high_decision,
        "ln_change": rows.ln_change,
        "ln_half_90": np.log1p(rows.high90 / 100.0) - rows.ln_change,
        "ln_half_95": np.log1p(rows.high95 / 100.0) - rows.ln_change,
        "session_share": rows.session_share,
        "session_common": rows.session_common,
    }


def _still(needed: IntArray) -> BoolArray:
    """Say where more is needed and how much is known: settled rows and hopeless ones stay blank."""
    known: BoolArray = (needed != 0) & (needed != NOT_REACHABLE)
    return known


def _parameter_rows(part: Part, model: SpreadModel) -> pl.DataFrame:
    rows = [
        *((name, value, model.basis) for name, value in _spread_parameters(model).items()),
        *(
            (f"{owner}_sessions.{name}", value, component.basis)
            for owner, component in (
                ("cell", model.cell_sessions),
                ("change", model.change_sessions),
            )
            for name, value in _session_parameters(component).items()
        ),
    ]
    held = pl.DataFrame(rows, schema=["parameter", "value", "basis"], orient="row").with_columns(
        pl.lit(model.version).alias("model_version"), pl.lit(model.cells).alias("cells")
    )
    return _frame(part, {name: held[name] for name in held.columns}, _PARAMETERS)


def _spread_parameters(model: SpreadModel) -> dict[str, float]:
    return {
        "degrees_of_freedom": float(model.degrees_of_freedom),
        "median_spread_pct": model.median_spread_pct,
        "mean_ln_sd_se": model.mean_ln_sd_se,
        **{f"{factor}_ln_sd": sd for factor, sd in model.factor_ln_sd.items()},
        "residual_ln_sd": model.residual_ln_sd,
        "pass_share": model.pass_share,
        "pass_share_sd": model.pass_share_sd,
        "pass_pairs": float(model.pass_pairs),
    }


def _session_parameters(component: SessionComponent) -> dict[str, float]:
    return {
        "absolute_pct": component.absolute_pct,
        "ratio": component.ratio,
        "ln_sd": component.ln_sd,
        "common_share": component.common_share,
        "degrees_of_freedom": float(component.degrees_of_freedom),
    }
