"""The derived tables as text for a person at a console."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import duckdb

LEGEND = (
    "change in per cent; + gain, - loss, ~ direction not shown;\n"
    "M material, i immaterial, ? unsettled;\n"
    "(why) no verdict; . not measured in both levels. Current stack and build only."
)
_MARKS = {"gain": "+", "loss": "-", "not_shown": "~"}
_SIZES = {"material": "M", "immaterial": "i", "unsettled": "?"}
_REASONS = {
    "confounded": "conf.",
    "ineffective": "ineff.",
    "direction_neither": "n/a",
    "insufficient_frames": "frames",
    "one_run": "1 run",
    "no_blocks": "blocks",
    "session_spread_unknown": "session",
}


def comparison_grid(con: duckdb.DuckDBPyConnection, contrast: str, metric: str) -> str:
    """Show the current comparisons of one contrast and metric: workloads down, rigs across.

    Args:
        con: Connection that holds the derived table ``comparisons``.
        contrast: The contrast.
        metric: The metric.

    Returns:
        Lines of text; empty where there is no such comparison.
    """
    rows = con.execute(
        "select workload, resolution, rig, change_pct, direction, size, no_verdict "
        "from comparisons where contrast = ? and metric = ? and current "
        "order by workload, resolution, rig",
        [contrast, metric],
    ).fetchall()
    if not rows:
        return ""
    rigs = sorted({row[2] for row in rows})
    held = {(row[0], row[1], row[2]): _cell(*row[3:]) for row in rows}
    places = sorted({row[:2] for row in rows}, key=_by_pixels)
    body = [[*place, *(held.get((*place, rig), ".") for rig in rigs)] for place in places]
    return _aligned([["workload", "resolution", *rigs], *body])


def _by_pixels(place: tuple[str, str]) -> tuple[str, int]:
    workload, resolution = place
    width, height = resolution.split("x")
    return workload, int(width) * int(height)


def _cell(change: float | None, direction: str | None, size: str | None, why: str | None) -> str:
    # Adding zero turns a rounded -0.0 into 0.0.
    number = "" if change is None else f"{round(change, 1) + 0.0:+.1f}"
    if why is not None:
        return f"{number} ({_REASONS.get(why, why)})"
    return f"{number} {_MARKS.get(direction or '', ' ')}{_SIZES.get(size or '', ' ')}"


def _aligned(rows: Sequence[Sequence[str]], words: int = 2) -> str:
    """Align columns: the first ones are words and stand left, numbers stand right."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return "\n".join(_line(row, widths, words) for row in rows)


def _line(row: Sequence[str], widths: Sequence[int], words: int) -> str:
    first = [cell.ljust(width) for cell, width in zip(row[:words], widths[:words], strict=True)]
    rest = [cell.rjust(width) for cell, width in zip(row[words:], widths[words:], strict=True)]
    return "  ".join([*first, *rest]).rstrip()


def all_grids(con: duckdb.DuckDBPyConnection, metrics: Sequence[str]) -> Iterator[str]:
    """Give, for each contrast and metric, a heading and its comparison grid."""
    contrasts = con.execute("select contrast from contrasts order by contrast").fetchall()
    for (contrast,) in contrasts:
        for metric in metrics:
            grid = comparison_grid(con, contrast, metric)
            if grid:
                yield f"{contrast}, {metric}\n{grid}\n"


def spreads(con: duckdb.DuckDBPyConnection, metrics: Sequence[str]) -> Iterator[str]:
    """Give every comparison, older stacks included, with its raw and its moderated spread.

    Then, for each rig and workload that was measured in several boots, what a boot alone changes.

    Args:
        con: Connection that holds the derived tables ``comparisons`` and ``repeatability``.
        metrics: Which metrics, in this order.
    """
    for metric in metrics:
        rows = con.execute(_COMPARISONS, [metric]).fetchall()
        if rows:
            body = [[*row[:4], *_spread_cells(*row[4:])] for row in rows]
            yield f"{metric}, every comparison\n{_aligned([_COMPARISON_HEAD, *body], words=4)}\n"
        boots = con.execute(_BOOTS, [metric]).fetchall()
        if boots:
            body = [[*row[:2], str(row[2]), _pct(row[3]), _pct(row[4])] for row in boots]
            yield f"{metric}, from boot to boot\n{_aligned([_BOOT_HEAD, *body])}\n"


_COMPARISONS = """
    select rig || case when current then '' else ' (older)' end, workload, resolution, contrast,
        change_pct, low_95_pct, high_95_pct, low_decision_pct, high_decision_pct, direction, size,
        no_verdict, spread_pct, moderated_spread_pct, sessions
    from comparisons where metric = ?
    order by rig, workload, resolution, contrast, current desc, stack, title_build
"""
_COMPARISON_HEAD = (
    "rig", "workload", "resolution", "contrast", "change %", "95 % interval", "verdict rests on",
    "", "raw spread %", "moderated %", "boots",
)  # fmt: skip
_BOOTS = """
    select rig, workload, sessions, run_spread_pct, session_spread_pct
    from repeatability where metric = ? and sessions > 1 and session_spread_pct is not null
    order by rig, workload
"""
_BOOT_HEAD = ("rig", "workload", "boots", "run to run %", "boot to boot %")


def _spread_cells(*row: Any) -> list[str]:  # noqa: ANN401 - one row of a query
    change, low, high, rests_low, rests_high, direction, size, why, raw, moderated, sessions = row
    verdict = _REASONS.get(why, why) if why else f"{_MARKS[direction]}{_SIZES[size]}"
    intervals = [_interval(low, high), "" if why else _interval(rests_low, rests_high)]
    spread = [_pct(raw), _pct(moderated)]
    return [_cell(change, None, None, None).strip(), *intervals, verdict, *spread, str(sessions)]


def _interval(low: float | None, high: float | None) -> str:
    return "" if low is None else f"{low:+.1f} to {high:+.1f}"


def _pct(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"


def dependences(con: duckdb.DuckDBPyConnection) -> list[str]:
    """Say, a line each, on what the change was found to depend."""
    rows = con.execute(
        "select workload, resolution, contrast, metric, factor, extent_pct, extent_low_95_pct, "
        'extent_high_95_pct, q, "where" from factor_effects where depends '
        "order by workload, resolution, contrast, metric, factor"
    ).fetchall()
    return [_dependence(*row) for row in rows]


def _dependence(*row: Any) -> str:  # noqa: ANN401 - one row of a query
    workload, resolution, contrast, metric, factor, extent, low, high, q, where = row
    said = f": {where}" if where else ""
    return (
        f"{workload} at {resolution}, {contrast}, {metric}: depends on {factor}, by {extent:.1f} % "
        f"({low:.1f} to {high:.1f}), q {q:.3f}{said}"
    )


def as_rows(con: duckdb.DuckDBPyConnection, table: str) -> list[dict[str, Any]]:
    """Give a derived table as plain rows, for ``--json``."""
    cursor = con.execute(f'select * from "{table}"')
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
