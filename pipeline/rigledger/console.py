"""Printing at the rim: where a command's words go, and how it ends."""

from __future__ import annotations

import json
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, NoReturn

import typer

from rigledger.errors import MissingExtraError, RigledgerError

if TYPE_CHECKING:
    from collections.abc import Iterator

CLEAN, FINDINGS, WRONG_USE = 0, 1, 2

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
    """Turn our own errors into a message and exit code 2; a traceback is a bug's alone."""
    try:
        yield
    except RigledgerError as error:
        _show(error, as_json=as_json)
        raise typer.Exit(WRONG_USE) from error
    except ModuleNotFoundError as error:
        if (error.name or "").split(".")[0] not in _CURATOR_PACKAGES:
            raise
        _show(_missing_extra(error), as_json=as_json)
        raise typer.Exit(WRONG_USE) from error


def _missing_extra(error: ModuleNotFoundError) -> MissingExtraError:
    return MissingExtraError(
        f"this command needs the package {error.name}, which the tester's install leaves out",
        next_step='pip install "rigledger[curator]"',
    )


def _show(error: RigledgerError, *, as_json: bool) -> None:
    if as_json:
        say_json({"error": error.as_dict()})
    else:
        typer.secho(str(error), err=True, fg="red")
