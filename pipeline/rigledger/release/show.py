"""Results of releasing and rechecking as lines for a person."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rigledger.release.outcome import Difference
    from rigledger.release.recheck import RecheckResult
    from rigledger.release.write import ReleaseResult

_VERDICTS = {
    "as_published": "As published: every file was made again with the same bytes.",
    "values_follow": (
        "The derived values follow from the runs (equal to 1e-9); some bytes differ, as they may "
        "on another processor."
    ),
    "made_by_another_version": (
        "Made by another version: the hashes fit, and what differs may come from the versions "
        "below. Install those to decide."
    ),
    "altered": "ALTERED: something here is not what a release of these runs would hold.",
}
_SHOWN = 20


def release_lines(result: ReleaseResult) -> list[str]:
    """Say where a release is and how to quote it."""
    return [
        f"Version {result.version}: {result.folder}",
        f"Fingerprint: {result.fingerprint}",
    ]


def recheck_lines(result: RecheckResult) -> list[str]:
    """Say what a recheck found, the verdict first."""
    return [
        f"{result.name}, fingerprint {result.fingerprint}",
        _VERDICTS[result.verdict],
        *_promises(result),
        *(
            f"  {name}: made with {made}, here {here}"
            for name, (made, here) in result.versions.items()
        ),
        *(f"  read by this version's contract, {text}" for text in result.carried_over),
        *_differences(result),
        *(f"Proven: {text}" for text in result.proven),
        *(f"Not proven: {text}" for text in result.not_proven),
    ]


def _promises(result: RecheckResult) -> Iterator[str]:
    for number, promise in enumerate(result.promises, start=1):
        held = "holds" if promise.holds else f"does not hold ({promise.because})"
        yield f"  promise {number}, {promise.says}: {held}"


def _differences(result: RecheckResult) -> Iterator[str]:
    for held in result.differences[:_SHOWN]:
        yield difference_line(held)
    if len(result.differences) > _SHOWN:
        yield f"  and {len(result.differences) - _SHOWN} more differences"


def _apart(held: Difference) -> str:
    """Say by how much a number differs: in its own unit and, where it isn't zero, in per cent."""
    if held.apart is None:
        return ""
    by, per_cent = held.apart
    share = f", {per_cent:+.3g} %" if math.isfinite(per_cent) else ""
    return f": {by:+.6g}{share}"


def difference_line(held: Difference) -> str:
    """Write one difference: file, row, column, what is recorded and what was found."""
    place = ", ".join(part for part in (held.file, held.key, held.column) if part)
    values = ""
    if held.recorded is not None or held.found is not None:
        values = f" (recorded {held.recorded}, found {held.found}{_apart(held)})"
    return f"  {place}: {held.says}{values}"
