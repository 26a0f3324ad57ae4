"""Fits that were made before in this process, by the bytes of all that they follow from.

A review builds its tables many times over the same runs: after each set that comes in, for an
audit, for a release and its recheck. Nobody's fit depends on another's runs, so that most of them
are the same each time, and a change of stack asks for the fit that the comparisons rest on.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from rigledger.statistics.inputs import CellArrays, Settings
    from rigledger.statistics.pair_laws import Fitted
    from rigledger.statistics.spread_data import SortedRuns

MOST_FITS = 128
MOST_RUNS = 20_000
"""A fit to more runs than this is not held: it would take much memory for one study."""

_KNOWN: OrderedDict[bytes, Fitted] = OrderedDict()


def known_fit(
    runs: SortedRuns, cells: CellArrays, settings: Settings, make: Callable[[], Fitted]
) -> Fitted:
    """Give the fit to the same runs, cells and priors: the one made before, or a new one.

    Args:
        runs: runs in canonical order.
        cells: the cells' factors and sentinels.
        settings: of which the declared priors of the spreads matter.
        make: makes the fit; whatever it raises is raised again the next time.
    """
    if len(runs.y) > MOST_RUNS:
        return make()
    key = _key(runs, cells, settings)
    found = _KNOWN.get(key) or make()
    _KNOWN[key] = found
    _KNOWN.move_to_end(key)
    if len(_KNOWN) > MOST_FITS:
        _KNOWN.popitem(last=False)
    return found


def forget_fits() -> None:
    """Make every fit anew from now on: for whoever measures or compares the making."""
    _KNOWN.clear()


def _key(runs: SortedRuns, cells: CellArrays, settings: Settings) -> bytes:
    digest = hashlib.sha256(
        repr((sorted(cells.factors), settings.spread_prior, settings.session_spread_pct)).encode()
    )
    arrays = [getattr(runs, held.name) for held in fields(runs)]
    arrays += [cells.factors[name] for name in sorted(cells.factors)]
    for array in (*arrays, cells.sentinel):
        held = np.ascontiguousarray(array)
        digest.update(f"{held.dtype} {held.shape}\n".encode())
        # The bytes of an array of objects are only where these lie in memory.
        digest.update(repr(held.tolist()).encode() if held.dtype.hasobject else held.tobytes())
    return digest.digest()
