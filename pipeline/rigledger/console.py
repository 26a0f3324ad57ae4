"""Printing at the rim: where a command's words go, and how it ends."""

from __future__ import annotations

import json
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, NoReturn

import typer

from rigledger.errors import MissingExtraError, RigledgerError
from rigledger.storage import storage_error

if TYPE_CHECKING:
    from collections.abc import Iterator

CLEAN, FINDINGS, WRONG_USE = 0, 1, 2
INTERRUPTED = 130  # 128 and the number of the signal, as shells have it

# What only the curator's install brings; the tester's install runs `kit` and `check` without it.
_CURATOR_PACKAGES = {
    "altair", "cryptography", "filelock", "frictionless", "great_expectations", "jinja2",
    "jsonschema", "numpy", "pandas", "pandera", "polars", "pyarrow", "scipy", "vl_convert",
}  # fmt: skip


def say(text: str = "") -> None:
    """Print a line to the person, whatever the console's code page."""
    stream = sys.stdout
    encoding = stream.encoding or "utf-8"
    stream.write(text.encode(encoding, "replace").decode(encoding) + "\n")


def progress(text: str) -> None:
    """Say what is being done, to a person who watches a terminal and to nobody else."""
    if sys.stderr.isatty():
        typer.secho(f"… {text}", err=True, dim=True)


def say_json(value: object) -> None:
    """Print a value as JSON, keys in their order."""
    say(json.dumps(value, ensure_ascii=False, indent=2, default=str))


def stop(code: int) -> NoReturn:
    """End the command with an exit code."""
    raise typer.Exit(code)


@contextmanager
def plain_errors(*, as_json: bool = False) -> Iterator[None]:
    """Turn what a user can meet into a message and exit code 2; a traceback is a bug's alone.

    Ctrl-C ends with a sentence and exit code 130.
    """
    try:
        yield
    except KeyboardInterrupt as error:
        raise _stopped() from error
    except Exception as error:
        if _is_interrupt(error):
            raise _stopped() from error
        told = _told(error)
        if told is None:
            raise
        _show(told, as_json=as_json)
        raise typer.Exit(WRONG_USE) from error


def _stopped() -> typer.Exit:
    typer.secho("Stopped: nothing is left half-written; run the command again.", err=True)
    return typer.Exit(INTERRUPTED)


def _is_interrupt(error: Exception) -> bool:
    """Whether it is what the database makes of Ctrl-C while a query runs."""
    return isinstance(error, RuntimeError) and str(error) == "Query interrupted"


def _told(error: Exception) -> RigledgerError | None:
    if isinstance(error, RigledgerError):
        return error
    if isinstance(error, ModuleNotFoundError):
        return _missing_extra(error)
    return storage_error(error)


def _missing_extra(error: ModuleNotFoundError) -> MissingExtraError | None:
    if (error.name or "").split(".")[0] not in _CURATOR_PACKAGES:
        return None
    return MissingExtraError(
        f"this command needs the package {error.name}, which the tester's install leaves out",
        next_step='pip install "rigledger[curator]"',
    )


def _show(error: RigledgerError, *, as_json: bool) -> None:
    if as_json:
        say_json({"error": error.as_dict()})
    else:
        typer.secho(str(error), err=True, fg="red")
