"""The draft: fill its placeholders, point out the numbers that none of them made."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rigledger.commands.options import AsJson, Threads
from rigledger.console import CLEAN, FINDINGS, plain_errors, say, say_json, stop

if TYPE_CHECKING:
    from rigledger.quote.desk import Outcome


def register(app: typer.Typer) -> None:
    """Add the commands of this part."""
    app.command()(quote)


def quote(
    study: Annotated[Path, typer.Argument(help="A study's folder, or an unpacked release.")],
    draft: Annotated[Path, typer.Argument(help="The draft, .md or .html; it is never changed.")],
    out: Annotated[Path, typer.Option(help="Where the filled draft goes.")],
    claims: Annotated[
        Path | None, typer.Option(help="The claims; claims.toml of the study by default.")
    ] = None,
    allow_open: Annotated[
        bool,
        typer.Option("--allow-open", help="Fill in figures that the data don't bear out, too."),
    ] = False,
    replace: Annotated[
        bool, typer.Option("--replace", help="Overwrite a filled draft that was edited by hand.")
    ] = False,
    left_alone: Annotated[
        bool, typer.Option("--left-alone", help="List the numbers that may stand, and why.")
    ] = False,
    threads: Threads = 2,
    as_json: AsJson = False,
) -> None:
    """Fill the figures of a draft, and point out numbers that the study didn't give."""
    with plain_errors(as_json=as_json):
        from rigledger.charts.source import open_source
        from rigledger.quote.claims import judge_of
        from rigledger.quote.desk import quote_file
        from rigledger.quote.figures import Ledger
        from rigledger.quote.show import as_plain, outcome_lines

        source = open_source(study, threads=threads)
        root = study.parent if study.name == "study.toml" else study
        ledger = Ledger(source, judge_of(source, claims or root / "claims.toml"))
        made: Outcome = quote_file(draft, out, ledger, allow_open=allow_open, replace=replace)
        if as_json:
            say_json(as_plain(made))
        for line in () if as_json else outcome_lines(made, draft, left_alone=left_alone):
            say(line)
        stop(CLEAN if made.clean else FINDINGS)
