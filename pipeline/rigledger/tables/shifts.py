"""Joins the statistics of stack changes in: one call per contributor and metric."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from rigledger.statistics.inputs import PairArrays
from rigledger.statistics.stack_shift import AskedShifts, stack_shifts
from rigledger.tables.analysis import cell_arrays, pair_arrays, run_arrays, settings_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.statistics.stack_shift import ShiftArrays
    from rigledger.tables.workshop import Workshop

_LABELS = {"run_labels": "run", "cell_labels": "cell", "pair_labels": "pair"}
_SCHEMA = (
    dict.fromkeys(("contributor", "metric", "kind"), pl.String())
    | {"shift": pl.Int64()}
    | dict.fromkeys(("shift_pct", "low_95_pct", "high_95_pct", "p"), pl.Float64())
    | dict.fromkeys(("direction", "size", "session_basis"), pl.String())
)


def fill_shift_statistics(shop: Workshop) -> None:
    """Fill ``work.shift_statistics``: one row per shift of a cell or of the setting's effect."""
    asked = shop.frame("select * from work.shift_pairs order by contributor, metric, kind, shift")
    parts = asked.partition_by("contributor", "metric", as_dict=True, maintain_order=True)
    labels = _labels(shop) if parts else {}
    rows = [_part(shop, labels, str(key[0]), str(key[1]), held) for key, held in parts.items()]
    shop.fill("shift_statistics", pl.concat([pl.DataFrame(schema=_SCHEMA), *rows]))


def _part(
    shop: Workshop,
    labels: Mapping[str, pl.DataFrame],
    contributor: str,
    metric: str,
    held: pl.DataFrame,
) -> pl.DataFrame:
    own = (pl.col("contributor") == contributor) & (pl.col("metric") == metric)
    runs, cells, pairs = (labels[name].filter(own) for name in _LABELS)
    kinds = {kind: held.filter(pl.col("kind") == kind) for kind in ("cell", "effect")}
    effects = kinds["effect"]
    places = [np.searchsorted(pairs["pair"], effects[name]) for name in ("before", "after")]
    asked = AskedShifts(
        cells=PairArrays(kinds["cell"]["before"].to_numpy(), kinds["cell"]["after"].to_numpy()),
        changes=pair_arrays(pairs),
        effects=PairArrays(*places),
    )
    found = stack_shifts(run_arrays(runs), cell_arrays(cells), asked, settings_of(shop, metric))
    names = {"contributor": contributor, "metric": metric}
    return pl.concat(
        [
            _rows(names | {"kind": "cell"}, kinds["cell"]["shift"], found.cells),
            _rows(names | {"kind": "effect"}, effects["shift"], found.effects),
        ]
    )


def _labels(shop: Workshop) -> dict[str, pl.DataFrame]:
    return {
        name: shop.frame(f"select * from work.{name} order by contributor, metric, {key}")
        for name, key in _LABELS.items()
    }


def _rows(names: dict[str, str], shift: pl.Series, found: ShiftArrays) -> pl.DataFrame:
    columns = {
        "shift": shift,
        "shift_pct": found.shift_pct,
        "low_95_pct": found.low95,
        "high_95_pct": found.high95,
        "p": found.p,
        "direction": found.direction,
        "size": found.size,
        "session_basis": found.session_basis,
    }
    named = pl.DataFrame(columns).with_columns(
        pl.lit(text).alias(name) for name, text in names.items()
    )
    return named.select(pl.col(name).cast(kind) for name, kind in _SCHEMA.items())
