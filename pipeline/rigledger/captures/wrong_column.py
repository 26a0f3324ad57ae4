"""Tells points in time from frame times by how a column's values follow each other."""

from __future__ import annotations

from rigledger.captures.problems import CaptureProblem
from rigledger.contract.limits import limit


def points_problem(column: str, values: int, rises: int, falls: int) -> CaptureProblem | None:
    """Give the problem of a column of frame times that only ever grows, None where it isn't one.

    Of n frame times in random order, all grow from one to the next once in n! captures.

    Args:
        column: The declared column.
        values: Numbers in it.
        rises: How many are greater than the one before.
        falls: How many are smaller.
    """
    if values < limit("captures.pattern_frames") or falls or 2 * rises < values:
        return None
    return CaptureProblem(
        "capture_holds_points", None, column, None,
        f"its {values} values only ever grow: they are points in time, not frame times",
        f'state timestamp_column = "{column}" in place of frame_time_column under [captures]',
    )  # fmt: skip


def durations_problem(column: str, values: int, rises: int, falls: int) -> CaptureProblem | None:
    """Give the problem of a column of points that falls as a rule, None where it isn't one.

    Of frame times that follow each other at random half are smaller than the one before; of points
    in time one is at every reset of the clock.

    Args:
        column: The declared column.
        values: Numbers in it.
        rises: How many are greater than the one before.
        falls: How many are smaller.
    """
    if values < limit("captures.pattern_frames") or 4 * falls < rises + falls or not falls:
        return None
    return CaptureProblem(
        "capture_holds_durations", None, column, None,
        f"{falls} of its {values} values are smaller than the one before: they are frame times",
        f'state frame_time_column = "{column}" in place of timestamp_column under [captures]',
    )  # fmt: skip
