"""Derived tables, releases, rechecking."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rigledger.commands.options import AsJson, StudyPath, Threads
from rigledger.console import plain_errors, say, say_json


def register(app: typer.Typer) -> None:
    """Add the commands of this part."""
    app.command()(tables)


def tables(
    study: StudyPath,
    out: Annotated[
        Path | None, typer.Option(help="Folder to write; <study>/derived by default.")
    ] = None,
    all_metrics: Annotated[
        bool, typer.Option("--all-metrics", help="Show every metric, not the first alone.")
    ] = False,
    threads: Threads = 2,
    as_json: AsJson = False,
) -> None:
    """Build the derived tables of a study and show the comparisons."""
    with plain_errors(as_json=as_json):
        from rigledger.study.layout import open_study
        from rigledger.tables import show
        from rigledger.tables.write import build_study, write_tables

        place = open_study(study)
        built = build_study(place, threads=threads)
        folder = out or place.root / "derived"
        rows = write_tables(built, folder)
        if as_json:
            say_json({"folder": str(folder), "rows": rows})
            return
        shown = built.design.all_metrics if all_metrics else built.design.metrics[:1]
        for grid in show.all_grids(built.con, shown):
            say(grid)
        say(show.LEGEND)
        for line in show.dependences(built.con):
            say(f"* {line}")
        say(f"{sum(rows.values())} rows in {len(rows)} tables: {folder}")
