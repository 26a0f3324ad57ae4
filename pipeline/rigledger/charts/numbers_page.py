"""Writes pipeline/docs/numbers.md: what each number means, with one worked cell.

``python -m rigledger.charts.numbers_page STUDY --out FILE`` writes it, ``--check`` says whether it
is current. Every figure comes from the study's tables, so that none can go stale unseen.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections import defaultdict
from pathlib import Path
from statistics import fmean, geometric_mean
from typing import TYPE_CHECKING, Any

from rigledger.charts.headline import listed
from rigledger.charts.numbers import percent
from rigledger.charts.source import open_source
from rigledger.counting import counted
from rigledger.files import write_text
from rigledger.page.words import plain_number, signed_pct

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from rigledger.charts.source import Source

    Row = dict[str, Any]

PLACE = {
    "rig": "bench.q3-52", "workload": "kippereen-deep", "resolution": "1920x1080",
    "metric": "average_fps", "contrast": "x8-against-x16", "other_rig": "bench.q3-94",
}  # fmt: skip
_CELL_ROWS = (
    ("runs", "text"), ("sessions", "text"), ("geometric_mean", "num"), ("low_95", "num"),
    ("high_95", "num"), ("spread_pct", "spread"), ("moderated_spread_pct", "spread"),
    ("doubtful_runs", "text"),
)  # fmt: skip
_COMPARISON_ROWS = (
    ("change_pct", "pct"), ("low_95_pct", "pct"), ("high_95_pct", "pct"), ("low_90_pct", "pct"),
    ("high_90_pct", "pct"), ("low_decision_pct", "pct"), ("high_decision_pct", "pct"),
    ("direction", "text"), ("size", "text"), ("p_direction", "p"), ("q_direction", "p"),
    ("p_size", "p"), ("design", "text"), ("session_basis", "text"), ("sessions", "text"),
    ("blocks", "text"), ("rounds_used", "text"), ("spread_pct", "spread"),
    ("moderated_spread_pct", "spread"), ("confounded_by", "text"), ("no_verdict", "text"),
    ("runs_needed", "text"),
)  # fmt: skip


def small_p(value: float) -> str:
    """Write a p value: four digits, or that it is smaller."""
    return "below 0.0001" if value < 0.0001 else f"{value:.4f}"


_FILTERS: dict[str, Callable[[Any], str]] = {
    "pct": signed_pct, "num": plain_number, "spread": percent, "p": small_p,
    "text": str,
}  # fmt: skip


def _as_written(value: object, name: str) -> str:
    return "" if value is None else _FILTERS[name](value)


def numbers_page(source: Source, study_folder: str) -> str:
    """Give the page in Markdown.

    Args:
        source: The demonstration study's tables.
        study_folder: How the page names the study's folder.
    """
    import jinja2

    folder = Path(__file__).parent / "templates"
    # Markdown, not HTML; and what is missing is an error, never a blank.
    environment = jinja2.Environment(  # noqa: S701
        loader=jinja2.FileSystemLoader(folder, encoding="utf-8"),
        undefined=jinja2.StrictUndefined, keep_trailing_newline=True,
    )  # fmt: skip
    environment.filters.update(_FILTERS)
    environment.filters["written"] = _as_written
    facts = _facts(source) | {"study_folder": study_folder}
    return environment.get_template("numbers.md.j2").render(facts)


def _rows(source: Source, table: str, **where: str) -> list[Row]:
    """Give the rows of a table that have these values, in the table's own order."""
    keys = " AND ".join(f'"{name}" = ${name}' for name in where)
    cursor = source.con.execute(f'SELECT * FROM "{table}" WHERE {keys}', where)
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _facts(source: Source) -> dict[str, Any]:
    tables = _tables(source)
    change = tables["c"]
    design = source.design
    contrast = next(held for held in design.contrasts if held.contrast == PLACE["contrast"])
    levels = (contrast.from_level, contrast.to_level)
    runs, cells = _runs(source, levels), _cells(source, levels)
    rounds = _changes_by_round(runs, levels)
    basis = source.contract.vocabularies["session_basis"].terms[change["session_basis"]]
    return tables | {
        "place": PLACE, "runs": runs, "cells": cells, "design": design,
        "title": design.workload(PLACE["workload"]).title, "unit": change["unit"],
        "card_model": next(held.model for held in design.cards if held.card == change["card"]),
        "contrast_name": source.contrast_name(PLACE["contrast"]), "delta": f"{source.delta:g}",
        "metric_name": source.metric_name(PLACE["metric"]), "session_basis": basis,
        "cell_rows": _CELL_ROWS, "comparison_rows": _COMPARISON_ROWS,
        "sessions_text": _sessions_text(runs, levels[0], change["unit"]),
        "blocks_text": listed([f"{signed_pct(held)} in round {n}" for n, held in rounds.items()]),
        "pairs_text": _freedom_text(runs, levels[0]),
        "family_size": len(_judged(source)), "open": _open_one(source),
    }  # fmt: skip


def _tables(source: Source) -> dict[str, Any]:
    rig = {key: PLACE[key] for key in ("rig", "resolution", "contrast", "metric")}
    at = rig | {"workload": PLACE["workload"]}
    (change,) = (row for row in _rows(source, "comparisons", **at) if row["current"])
    about = {key: value for key, value in at.items() if key != "rig"}
    effects = _rows(source, "factor_effects", contributor=change["contributor"], **about)
    at_any_resolution = {key: at[key] for key in ("rig", "workload", "metric")}
    pair = {key: PLACE[key] for key in ("workload", "resolution", "metric")}
    rigs = {"from_rig": PLACE["rig"], "to_rig": PLACE["other_rig"], "level": change["from_level"]}
    mine = {"contributor": change["contributor"], "metric": PLACE["metric"]}
    return {
        "c": change, "effects": effects,
        "crossed": any(row["factor"] == "platform_card" and row["depends"] for row in effects),
        "o": _rows(source, "overall", **rig)[0],
        "r": _rows(source, "repeatability", **at_any_resolution)[0],
        "x": _rows(source, "rig_comparisons", **pair, **rigs)[0],
        "m": _rows(source, "spread_models", parameter="median_spread_pct", **mine)[0],
    }  # fmt: skip


def _cells(source: Source, levels: Sequence[str]) -> list[Row]:
    where = {key: PLACE[key] for key in ("rig", "workload", "resolution", "metric")}
    rows = _rows(source, "cells", **where)
    return [next(row for row in rows if row["level"] == level) for level in levels]


def _runs(source: Source, levels: Sequence[str]) -> list[Row]:
    where = {key: PLACE[key] for key in ("rig", "workload", "resolution")}
    rows = [row for row in source.rows("runs", where) if row["level"] in levels]
    return [row | {"value": row[PLACE["metric"]]} for row in rows]


def _by_session(runs: Sequence[Row], level: str) -> dict[str, list[float]]:
    held = defaultdict(list)
    for run in runs:
        if run["level"] == level:
            held[run["session"]].append(run["value"])
    return dict(held)


def _sessions_text(runs: Sequence[Row], level: str, unit: str) -> str:
    means = (geometric_mean(values) for values in _by_session(runs, level).values())
    return " and ".join(f"{plain_number(mean)} {unit}" for mean in means)


def _freedom_text(runs: Sequence[Row], level: str) -> str:
    several = [values for values in _by_session(runs, level).values() if len(values) > 1]
    freedom = sum(len(values) - 1 for values in several)
    return f"{counted(freedom, 'comparison')} of runs of one boot"


def _changes_by_round(runs: Sequence[Row], levels: Sequence[str]) -> dict[int, float]:
    """Give the change in per cent between two levels' geometric means, round by round."""
    logs: dict[tuple[int, str], list[float]] = defaultdict(list)
    for run in runs:
        logs[run["round"], run["level"]].append(math.log(run["value"]))
    rounds = sorted({number for number, _ in logs})
    return {
        number: 100 * math.expm1(fmean(logs[number, levels[1]]) - fmean(logs[number, levels[0]]))
        for number in rounds
        if all((number, level) in logs for level in levels)
    }


def _judged(source: Source) -> list[Row]:
    where = {key: PLACE[key] for key in ("contrast", "metric")}
    return [row for row in _rows(source, "comparisons", **where) if row["q_direction"] is not None]


def _open_one(source: Source) -> Row:
    """Pick the comparison without a direction that the fewest further runs would settle."""
    rows = [
        row
        for row in _judged(source)
        if row["runs_needed"] and row["sessions_needed"] and row["direction"] == "not_shown"
    ]
    row = min(rows, key=lambda row: (row["runs_needed"], row["sessions_needed"], row["rig"]))
    return row | {"title": source.design.workload(row["workload"]).title}


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the page, or with ``--check`` compare; 1 where it is not current."""
    parser = argparse.ArgumentParser(prog="python -m rigledger.charts.numbers_page")
    parser.add_argument("study", type=Path, help="the demonstration study")
    parser.add_argument("--out", type=Path, default=Path("pipeline/docs/numbers.md"))
    parser.add_argument("--check", action="store_true", help="change nothing, say if it is current")
    given = parser.parse_args(arguments)
    text = numbers_page(open_source(given.study), "datasets/link-width")
    if not given.check:
        write_text(given.out, text)
        return 0
    current = given.out.is_file() and given.out.read_text(encoding="utf-8") == text
    sys.stdout.write(f"{given.out} is {'current' if current else 'not current: make it again'}\n")
    return 0 if current else 1


if __name__ == "__main__":
    sys.exit(main())
