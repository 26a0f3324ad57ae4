"""What outside programs say of a release: the official profile, and frictionless on every row."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.contract.conformance import profile_errors, prose_errors
from rigledger.errors import MissingExtraError
from rigledger.release.errors import ReleaseError

if TYPE_CHECKING:
    from pathlib import Path


def refuse_invalid(folder: Path, descriptor: dict[str, Any]) -> None:
    """Refuse a release that the standard's profile or frictionless objects to in any way.

    Args:
        folder: The release in the making, with its datapackage.json.
        descriptor: The same descriptor.

    Raises:
        ReleaseError: An error or a warning; it names the first and counts the rest.
        MissingExtraError: frictionless or jsonschema is not installed.
    """
    problems = [
        *(f"Data Package 2.0 profile: {text}" for text in profile_errors(descriptor)),
        *(f"Data Package 2.0: {text}" for text in prose_errors(descriptor)),
    ] or frictionless_problems(folder, descriptor)
    if problems:
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        raise ReleaseError(
            f"the package is not valid, so it was not published: {problems[0]}{more}",
            file="datapackage.json",
            next_step="correct what the message names in the study, then release again",
        )


def frictionless_problems(folder: Path, descriptor: dict[str, Any]) -> list[str]:
    """Validate a package with frictionless, every row; a warning counts as a problem."""
    try:
        from frictionless import FrictionlessException, Package
    except ImportError as error:
        raise MissingExtraError(
            "making a release needs frictionless", next_step="pip install 'rigledger[curator]'"
        ) from error
    try:
        report = Package.from_descriptor(descriptor, basepath=str(folder)).validate()
    except FrictionlessException as error:
        return [f"frictionless: {reason.message}" for reason in error.reasons or [error.error]]
    return _problems(report.to_descriptor())


def _problems(report: dict[str, Any]) -> list[str]:
    found = [str(text) for text in report["warnings"]]
    found += [str(error["message"]) for error in report["errors"]]
    for task in report["tasks"]:
        found += [f"{task['place']}: {text}" for text in task["warnings"]]
        found += [f"{task['place']}: {error['message']}" for error in task["errors"]]
    return [f"frictionless: {text}" for text in found]
