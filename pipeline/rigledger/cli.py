"""The command line: one command per step from the plan of measuring to a rechecked release."""

from __future__ import annotations

from typing import Annotated

import typer

from rigledger import __version__
from rigledger.commands import (
    auditing,
    claiming,
    depositing,
    handing_in,
    measuring,
    publishing,
    quoting,
    reviewing,
    signing,
)
from rigledger.console import say, stop

app = typer.Typer(
    name="rigledger",
    help="Frame-rate results as a data package: plan, check, admit, publish and recheck them.\n\n"
    "Exit codes: 0 clean, 1 findings, 2 wrong use, or the disk refuses,"
    " 130 stopped by Ctrl-C.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(wanted: bool) -> None:
    if wanted:
        say(f"rigledger {__version__}")
        stop(0)


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Take the options that stand before a command."""


for part in (
    measuring,
    handing_in,
    publishing,
    reviewing,
    claiming,
    signing,
    quoting,
    depositing,
    auditing,
):
    part.register(app)


if __name__ == "__main__":
    app()
