"""How far a release lies from the one before: quantities of both, and how far each may move."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.contract.load import schema_folder
from rigledger.contract.sql_text import identifier
from rigledger.errors import ContractError
from rigledger.tabular import column_names, read_header, read_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import date

    import duckdb

    from rigledger.release.differences import Previous

DRIFT = "drift"
"""Table of one row that great-expectations looks at: a column per quantity."""

ROWS_LOST = "rows_lost_pct"
TURNED = "turned_pct"
_FILE = "tolerances.toml"
_SQL = Path(__file__).parent / "sql" / "quality"
_NEEDED = ("cells", "comparisons")


@dataclass(frozen=True, slots=True)
class Band:
    """How far one quantity may move.

    Attributes:
        quantity: Its name.
        since: First day of release on which the band holds.
        why: What a value outside points to.
        factor: The value may lie between the earlier one divided and multiplied by this.
        points: Or so far to either side of it.
    """

    quantity: str
    since: date
    why: str
    factor: float | None = None
    points: float | None = None

    def limits(self, before: float) -> tuple[float, float]:
        """Give the least and most that the quantity may be, in its own unit."""
        if self.factor is not None:
            return before / self.factor, before * self.factor
        reach = self.points or 0.0
        return before - reach, before + reach


def read_bands(on: date, path: Path | None = None) -> dict[str, Band]:
    """Read the bands that hold for a release of some day, by quantity.

    Args:
        on: Day of the release.
        path: The file; None for the contract's.

    Raises:
        ContractError: A band lacks a key, has another, or has not one of factor and points.
    """
    path = path or schema_folder() / _FILE
    held = tomllib.loads(path.read_text(encoding="utf-8"))["bands"]
    bands = sorted((_band(item, path.name) for item in held), key=lambda band: band.since)
    return {band.quantity: band for band in bands if band.since <= on}


def _band(held: dict[str, Any], file: str) -> Band:
    try:
        band = Band(**held)
    except TypeError as error:
        raise ContractError(f"a band can't be read: {error}", file=file) from error
    if (band.factor is None) == (band.points is None):
        raise ContractError(
            "a band has either factor or points", file=file, column="quantity", value=band.quantity
        )
    return band


def make_drift(con: duckdb.DuckDBPyConnection, previous: Previous | None) -> dict[str, float]:
    """Make the table `DRIFT` of what a release is now, and give what the earlier one was.

    Args:
        con: Connection with the typed derived tables and ``changes``.
        previous: The earlier release; None makes no table.

    Returns:
        The earlier value of each quantity that both releases have, by name.
    """
    paths = previous.paths() if previous else {}
    if previous is None or not all(column_names(con, name) and name in paths for name in _NEEDED):
        return {}
    for name in _NEEDED:
        file = previous.folder / paths[name]
        read_text(con, file, read_header(file), f"_{name}_earlier")
    now = _quantities(con, dict(zip(_NEEDED, _NEEDED, strict=True)))
    before = _quantities(con, {name: f"_{name}_earlier" for name in _NEEDED})
    now[TURNED], before[TURNED] = _turned(con), 0.0
    shared = sorted(now.keys() & before.keys())
    columns = ", ".join(f"CAST(? AS DOUBLE) AS {identifier(name)}" for name in shared)
    values = [now[name] for name in shared]
    con.execute(f"CREATE OR REPLACE TEMP TABLE {DRIFT} AS SELECT {columns}", values)
    return {name: before[name] for name in shared}


def _quantities(con: duckdb.DuckDBPyConnection, tables: dict[str, str]) -> dict[str, float]:
    query = (_SQL / "drift.sql").read_text(encoding="utf-8").format(**tables)
    return {str(name): float(value) for name, value in con.execute(query).fetchall()}


def _turned(con: duckdb.DuckDBPyConnection) -> float:
    query = (_SQL / "turned.sql").read_text(encoding="utf-8")
    ((share,),) = con.execute(query).fetchall()
    return float(share)


def drift_limits(
    before: dict[str, float], bands: dict[str, Band]
) -> Iterator[tuple[str, float, float, str]]:
    """Give quantity, least, most and why for each quantity that has a band.

    Args:
        before: Earlier values by name; ``quantity`` or ``quantity.of_what``.
        bands: The bands by quantity.
    """
    for name, value in sorted(before.items()):
        band = bands.get(name.partition(".")[0])
        if band is not None:
            yield (name, *_rounded(band.limits(value)), band.why)


def _rounded(limits: Iterable[float]) -> tuple[float, float]:
    """Round limits, so that the last digits of two platforms give the same suite."""
    least, most = (float(f"{limit:.6g}") for limit in limits)
    return least, most
