"""Arguments and options that several commands share."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from rigledger.console import WRONG_USE

AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")]
StudyPath = Annotated[Path, typer.Argument(help="The study's folder (the one with study.toml).")]
Threads = Annotated[int, typer.Option(min=1, help="Threads; the tables don't depend on it.")]


def day(text: str | None, option: str) -> dt.date:
    """Read a day given as an option; today where none is given.

    Args:
        text: ``2026-11-25`` or None.
        option: The option, for the message.

    Raises:
        typer.BadParameter: It is no day of the calendar.
    """
    if text is None:
        return dt.datetime.now(tz=dt.UTC).date()
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise typer.BadParameter(
            f"{text!r} is no day; write it as 2026-11-25", param_hint=option
        ) from error


def wrong_use(message: str) -> typer.Exit:
    """Say what is wrong with a command's words; to be raised."""
    typer.secho(message, err=True, fg="red")
    return typer.Exit(WRONG_USE)
