"""For the review: charts, with the numbers under each."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rigledger.commands.options import AsJson, Threads, wrong_use
from rigledger.console import plain_errors, say, say_json

if TYPE_CHECKING:
    from rigledger.charts.source import Choice


def register(app: typer.Typer) -> None:
    """Add the commands of this part."""
    app.command()(charts)


def charts(
    study: Annotated[Path, typer.Argument(help="A study's folder, or an unpacked release.")],
    out: Annotated[Path, typer.Option(help="Folder to write; what else is in it stays.")],
    title: Annotated[str | None, typer.Option(help="Only this title, by name or id.")] = None,
    metric: Annotated[str | None, typer.Option(help="Only this metric.")] = None,
    contrast: Annotated[str | None, typer.Option(help="Only this contrast.")] = None,
    cell: Annotated[
        list[str],
        typer.Option(
            metavar="RIG,WORKLOAD,RESOLUTION",
            help="Show the runs of this cell in their order, instead of the doubtful ones; "
            "may be given again.",
        ),
    ] = [],
    kind: Annotated[
        list[str],
        typer.Option(
            help="Only pictures of this kind: intervals, overall, resolutions, factors, rates, "
            "spread or runs; may be given again.",
        ),
    ] = [],
    dark: Annotated[bool, typer.Option("--dark", help="Draw each picture in dark, too.")] = False,
    threads: Threads = 2,
    as_json: AsJson = False,
) -> None:
    """Draw the pictures of a review, and write the numbers under each as tables to paste."""
    with plain_errors(as_json=as_json):
        from rigledger.charts.source import open_source
        from rigledger.charts.write import KINDS, write_charts
        from rigledger.errors import near_names

        for name in kind:
            if name not in KINDS:
                raise wrong_use(f"--kind {name!r}: {near_names(name, KINDS)}")

        source = open_source(study, _choice(title, metric, contrast, cell), threads=threads)
        files = write_charts(
            source, out, looks=("light", "dark") if dark else ("light",), kinds=kind or tuple(KINDS)
        )
        if as_json:
            say_json({"folder": str(out), "files": [path.name for path in files]})
            return
        for path in files:
            say(str(path))


def _choice(title: str | None, metric: str | None, contrast: str | None, cell: list[str]) -> Choice:
    from rigledger.charts.source import Choice

    return Choice(title, metric, contrast, tuple(_cell(text) for text in cell))


def _cell(text: str) -> tuple[str, str, str]:
    parts = text.split(",")
    if len(parts) != 3 or not all(parts):
        raise wrong_use(f"--cell {text!r}: write it as rig,workload,resolution")
    rig, workload, resolution = parts
    return rig, workload, resolution
