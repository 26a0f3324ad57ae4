"""The tables of a release as its page needs them: pure reading, numbers rounded once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.counting import counted
from rigledger.page.answer import query
from rigledger.page.embed import packed, packed_columns
from rigledger.page.words import kind, verdict

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import polars as pl

    from rigledger.release.view import ReleaseView
    from rigledger.study.model import Platform

_PLACES = 3
_DIGITS = 6
MOST_RUNS = 100_000
"""Of more runs the page lists the latest of each cell, and leaves the others to the tables."""
_LATEST = 100
_FACTORS = {"platform": "the platform", "card": "the card", "platform_card": "platform × card"}


def page_data(view: ReleaseView) -> dict[str, Any]:
    """Give everything that the page's script draws from.

    Returns:
        Names of what can be chosen, and the packed tables; a table that the release lacks is empty.
    """
    latest = _show_runs(view)
    return {
        "study": view.design.study,
        "version": view.meta.version,
        "delta": view.design.material_change_pct,
        "names": _names(view),
        "comparisons": packed(_rows(view, "comparisons", _compared)),
        "cells": packed(_rows(view, "cells")),
        "runs": packed_columns(_runs(view)),
        **({} if latest is None else {"latest_runs": latest}),
        "effects": packed(_rows(view, "effects", _effect_of(view), needs="factor_effects")),
        "overall": packed(_rows(view, "overall")),
        "repeatability": packed(_rows(view, "repeatability")),
        "stack_shift": packed(_rows(view, "stack_shift", _compared)),
        "agreement": packed(_rows(view, "agreement")),
        "rigs": packed(view.rows(query("rigs"))),
        "stacks": packed([_stack(row) for row in view.rows(query("stacks"))]),
    }


def _rows(
    view: ReleaseView,
    name: str,
    told: Callable[[dict[str, Any]], dict[str, Any]] = dict,
    *,
    needs: str | None = None,
) -> list[dict[str, Any]]:
    """Read a table and tell each row in the page's words; none where the release lacks it."""
    if not view.has(needs or name):
        return []
    return [told(_rounded(row)) for row in view.rows(query(name))]


def _rounded(row: Mapping[str, Any]) -> dict[str, Any]:
    """Round shares to thousandths of a per cent, and values to six digits."""
    return {
        name: _round(name, value) if isinstance(value, float) else value
        for name, value in row.items()
    }


def _round(name: str, value: float) -> float:
    """Drop the digits that no reader compares; the CSV files keep them."""
    short = round(value, _PLACES) if name.endswith("_pct") else float(f"{value:.{_DIGITS}g}")
    return int(short) if short == int(short) else short


def _compared(row: dict[str, Any]) -> dict[str, Any]:
    found = (row.pop("direction"), row.pop("size"), row.pop("no_verdict"))
    return row | {"kind": kind(*found), "says": verdict(*found)}


def _effect_of(view: ReleaseView) -> Callable[[dict[str, Any]], dict[str, Any]]:
    """Give what turns a row of factor_effects into a sentence."""
    reasons = view.contract.vocabularies["not_estimable"].terms

    def told(row: dict[str, Any]) -> dict[str, Any]:
        kept = ("contributor", "workload", "resolution", "contrast", "metric", "factor", "depends")
        return {name: row[name] for name in kept} | {
            "told": row["not_estimable"] is None,
            "says": _effect(row, reasons),
        }

    return told


def _effect(row: Mapping[str, Any], reasons: Mapping[str, str]) -> str:
    factor = _FACTORS.get(row["factor"], str(row["factor"]))
    if row["not_estimable"] is not None:
        why = reasons.get(row["not_estimable"], row["not_estimable"])
        return f"Whether it depends on {factor} can't be told: {why}."
    if not row["depends"]:
        return f"That it depends on {factor} was not shown."
    extent = f"{row['extent_pct']:.1f} %"
    between = ""
    if row["extent_low_95_pct"] is not None:
        between = f" (95 %: {row['extent_low_95_pct']:.1f} to {row['extent_high_95_pct']:.1f} %)"
    place = f"; {row['place']}" if row["place"] else ""
    return f"Depends on {factor}: apart by {extent}{between}{place}."


def _show_runs(view: ReleaseView) -> int | None:
    """Make ``shown_runs``, the runs that the page lists.

    Returns:
        How many there are of a cell at most, the latest; None where the page lists all runs.
    """
    ((runs,),) = view.con.execute("SELECT count(*) FROM runs").fetchall()
    make = "CREATE OR REPLACE TEMP TABLE shown_runs AS "
    if runs <= MOST_RUNS:
        view.con.execute(f"{make} SELECT run FROM runs")
        return None
    ((cells,),) = view.con.execute(query("cells_run")).fetchall()
    latest = max(min(_LATEST, MOST_RUNS // int(cells)), 1)
    view.con.execute(make + query("latest_runs"), {"each": latest})
    return latest


def _runs(view: ReleaseView) -> dict[str, list[Any] | pl.Series]:
    """Give the runs that are listed by column, with one for each metric that was measured."""
    held = view.frame(query("runs"))
    pairs = zip(held["run"], held["session"], strict=True)
    short = [run.removeprefix(f"{session}.") for run, session in pairs]
    days = held["started_on"].cast(str)
    return {**held.to_dict(), "run": short, "started_on": days, **_values(view, held)}


def _values(view: ReleaseView, runs: pl.DataFrame) -> dict[str, list[Any]]:
    """Give the values of each metric by run, in the order in which the runs name the metrics."""
    held = view.frame(query("values")).drop_nulls("value")
    short = {value: _round("value", value) for value in held["value"].unique()}
    found = {}
    for metric in held["metric"].unique(maintain_order=True):
        of_metric = held.filter(held["metric"] == metric).select("run", "value")
        values = runs.join(of_metric, on="run", how="left", maintain_order="left")["value"]
        found[f"m:{metric}"] = [short.get(value) for value in values.to_list()]
    return found


def _stack(row: Mapping[str, Any]) -> dict[str, Any]:
    """Say in a line what a stack is."""
    words = {
        "firmware_version": "platform firmware", "driver_version": "driver",
        "card_firmware_version": "card firmware", "os": "OS", "os_build": "build",
        "profile": "profile",
    }  # fmt: skip
    parts = [f"{word} {row[name]}" for name, word in words.items() if row[name] is not None]
    return {"stack": row["stack"], "says": ", ".join(parts)}


def _names(view: ReleaseView) -> dict[str, list[dict[str, Any]]]:
    """List what a reader can choose, in the design's order, each with its shown name."""
    design = view.design
    levels = {level.level: level.title for level in design.levels}
    return {
        "metric": _metrics(view),
        "contrast": [
            {
                "id": one.contrast, "from": one.from_level, "to": one.to_level,
                "name": f"{levels[one.to_level]} against {levels[one.from_level]}",
            }
            for one in design.contrasts
        ],
        "title": _titles(view),
        "resolution": _resolutions(view),
        "platform": platform_names(design.platforms),
        "card": [{"id": one.card, "name": one.model} for one in design.cards],
        "level": [{"id": name, "name": title} for name, title in levels.items()],
    }  # fmt: skip


def platform_names(held: Sequence[Platform]) -> list[dict[str, Any]]:
    """List the platforms by processor; those that share one by board or memory kit too."""
    alike = {one.processor: [o for o in held if o.processor == one.processor] for one in held}
    return [{"id": one.platform, "name": _platform(one, alike[one.processor])} for one in held]


def _platform(one: Platform, alike: list[Platform]) -> str:
    """Name a platform among those with its processor, by as little as tells it apart."""
    if len(alike) == 1:
        return one.processor
    told = [(other.board, other.memory_kit) for other in alike]
    by_board, by_memory = (len({parts[at] for parts in told}) == len(told) for at in (0, 1))
    parts = [one.board, one.memory_kit]
    beside = parts[:1] if by_board else parts[1:] if by_memory else parts
    return f"{one.processor} ({', '.join(beside)})"


def shown_names(view: ReleaseView) -> dict[str, str]:
    """Give the names that stand for ids in sentences; a rig keeps its id beside its models."""
    held = _names(view)
    names = {
        one["id"]: one["name"] for kind in ("title", "contrast", "metric") for one in held[kind]
    }
    platforms = {one["id"]: one["name"] for one in held["platform"]}
    return names | {
        row["rig"]: f"{platforms[row['platform']]} · {row['model']} ({row['rig']})"
        for row in view.rows(query("rigs"))
    }


def _metrics(view: ReleaseView) -> list[dict[str, Any]]:
    """List the metrics that were measured, the study's required ones first."""
    rows = view.rows(
        "SELECT metric, title, unit, direction FROM metrics"
        " WHERE metric IN (SELECT metric FROM measurements) ORDER BY metric"
    )
    order = {name: place for place, name in enumerate(view.design.metrics)}
    rows.sort(key=lambda row: order.get(row["metric"], len(order)))
    return [
        {
            "id": row["metric"], "name": str(row["title"]).split(":", 1)[0],
            "defined": row["title"], "unit": row["unit"], "better": row["direction"],
        }
        for row in rows
    ]  # fmt: skip


def _titles(view: ReleaseView) -> list[dict[str, Any]]:
    """List the workloads; one whose title is not its own is told apart by its preset."""
    held = view.rows(
        "SELECT workload, title, preset, graphics_api, passage FROM workloads"
        " WHERE setting_can_act ORDER BY title, workload"
    )
    shown = [row["title"] for row in held]
    return [
        {
            "id": row["workload"],
            "name": row["title"]
            if shown.count(row["title"]) == 1
            else f"{row['title']} ({row['preset']})",
            "about": ", ".join(
                str(row[part]) for part in ("preset", "graphics_api", "passage") if row[part]
            ),
        }
        for row in held
    ]


def _resolutions(view: ReleaseView) -> list[dict[str, Any]]:
    rows = view.rows("SELECT DISTINCT resolution FROM runs")
    names = sorted((row["resolution"] for row in rows), key=_pixels)
    return [{"id": name, "name": name.replace("x", " × ")} for name in names]


def _pixels(resolution: str) -> tuple[int, str]:
    width, _, height = resolution.partition("x")
    known = width.isdigit() and height.isdigit()
    return (int(width) * int(height) if known else 0, resolution)


def scope_line(view: ReleaseView) -> str:
    """Say over how much the page speaks."""
    ((rigs, sessions, runs),) = view.con.execute(
        "SELECT (SELECT count(*) FROM rigs), (SELECT count(*) FROM sessions),"
        " (SELECT count(*) FROM runs WHERE role = 'measured')"
    ).fetchall()
    workloads = len(_titles(view))
    return (
        f"{counted(runs, 'measured run')} in {counted(sessions, 'session')} on "
        f"{counted(rigs, 'rig')}, {counted(workloads, 'workload')}."
    )
