"""What outside programs say of a release: the official profile, and frictionless on every row."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, partial
from typing import TYPE_CHECKING, Any

from rigledger.contract.conformance import profile_errors, prose_errors
from rigledger.contract.load import schema_folder
from rigledger.errors import MissingExtraError
from rigledger.files import hashes_below
from rigledger.release.errors import ReleaseError
from rigledger.release.judges import READ, JudgesHere
from rigledger.release.sampled import write_samples
from rigledger.remembered import Remembered, key_of, versions_of

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from pathlib import Path

    from rigledger.release.judges import Judges


@dataclass(frozen=True, slots=True)
class MadePackage:
    """A release in the making.

    Attributes:
        folder: Its folder, with its datapackage.json.
        descriptor: The same descriptor, whose hashes are those of the files.
        samples: Folder of ours for the samples: empty, or with those that are drawn already.
        in_part: Tables of which frictionless reads a sample.
    """

    folder: Path
    descriptor: dict[str, Any]
    samples: Path
    in_part: Collection[str] = ()


def refuse_invalid(package: MadePackage, remembered: Remembered, judges: Judges) -> None:
    """Refuse a release that the standard's profile or frictionless objects to in any way.

    Args:
        package: The release.
        remembered: What frictionless found in files with the same hash and description.
        judges: Who reads with frictionless.

    Raises:
        ReleaseError: An error or a warning; it names the first and counts the rest.
        MissingExtraError: frictionless or jsonschema is not installed.
    """
    frictionless_says = _ask(package, remembered, judges)
    stated = [
        *(f"Data Package 2.0 profile: {text}" for text in profile_errors(package.descriptor)),
        *(f"Data Package 2.0: {text}" for text in prose_errors(package.descriptor)),
    ]
    refuse_problems(stated or frictionless_says())


def refuse_problems(problems: list[str]) -> None:
    """Refuse a release in which problems were found; name the first and count the rest.

    Raises:
        ReleaseError: There is a problem.
    """
    if problems:
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        raise ReleaseError(
            f"the package is not valid, so it was not published: {problems[0]}{more}",
            file="datapackage.json",
            next_step="correct what the message names in the study, then release again",
        )


def frictionless_problems(package: MadePackage, remembered: Remembered) -> list[str]:
    """Validate a package with frictionless, every row; a warning counts as a problem.

    Of the tables that are read in part a sample is read. Of the contract's own files, which are the
    same in every release, no more than the hash is looked at.

    A resource is read once for the same bytes, description and tables that its keys lead to; what
    is said of the package as a whole is looked at with whatever is read, and with one at least.
    """
    return _ask(package, remembered, JudgesHere())()


def _ask(package: MadePackage, remembered: Remembered, judges: Judges) -> Callable[[], list[str]]:
    """Have frictionless read what is not remembered; gives what waits for all it says."""
    judged = [held for held in package.descriptor["resources"] if not _of_the_contract(held)]
    descriptor = {**package.descriptor, "resources": judged}
    resources = {held["name"]: held for held in judged}
    keys = {name: _key(held, resources) for name, held in resources.items()}
    whole = _key({**descriptor, "resources": []}, resources)
    unread = [name for name, key in keys.items() if not remembered.knows(key)]
    if not (unread or remembered.knows(whole)):
        unread = list(resources)[:1]
    answers = _asked(replace(package, descriptor=descriptor), unread, judges)

    def said() -> list[str]:
        found = {name: texts for answer in answers for name, texts in answer().items()}
        remembered.recall(whole, list)
        return [
            text
            for name, key in keys.items()
            for text in remembered.recall(key, partial(found.__getitem__, name))
        ]

    return said


def _of_the_contract(held: dict[str, Any]) -> bool:
    """Tell whether a resource is a file of this program's contract, unaltered."""
    within, _, path = held["path"].partition("/")
    return within == "schema" and held.get("hash") == f"sha256:{_contract_hashes().get(path)}"


@cache
def _contract_hashes() -> dict[str, str]:
    return hashes_below(schema_folder())


def _asked(
    package: MadePackage, names: list[str], judges: Judges
) -> list[Callable[[], dict[str, list[str]]]]:
    descriptor = package.descriptor
    whole = [name for name in names if name not in package.in_part]
    part = [name for name in names if name in package.in_part]
    asked = []
    if whole:
        in_part = sorted(package.in_part)
        asked.append(judges.ask(READ, str(package.folder), descriptor, whole, in_part))
    if part:
        resources = {held["name"]: held for held in descriptor["resources"]}
        drawn = write_samples(package.folder, package.samples, resources, part)
        held = descriptor | {"resources": list(drawn.values())}
        asked.append(judges.ask(READ, str(package.samples), held, part))
    return asked


def _key(held: dict[str, Any], resources: dict[str, dict[str, Any]]) -> str:
    """Hash what frictionless says of a resource from."""
    leads_to = [resources[name]["hash"] for name in _leads_to(held)]
    return key_of("frictionless", versions_of("frictionless"), held, leads_to)


def _leads_to(held: dict[str, Any]) -> list[str]:
    """Name the other tables that a resource's foreign keys lead to."""
    keys = held.get("schema", {}).get("foreignKeys", [])
    return sorted({name for key in keys if (name := key["reference"].get("resource"))})


def problems_by_resource(
    folder: str, descriptor: dict[str, Any], names: Collection[str], in_part: Collection[str] = ()
) -> dict[str, list[str]]:
    """Validate some resources of a package, in a package of them and what their keys lead to.

    Keys that lead to a table of which a sample is read are left to the compiled check.

    Args:
        folder: The package's.
        descriptor: Its description.
        names: The resources.
        in_part: Tables of which a sample is read, elsewhere.

    Returns:
        Name of each to every problem.

    Raises:
        MissingExtraError: frictionless is not installed.
    """
    frictionless = load_frictionless()
    listed = [_without_keys_to(held, in_part) for held in descriptor["resources"]]
    needed = {name for held in listed if held["name"] in names for name in _leads_to(held)}
    part = [held for held in listed if held["name"] in needed | set(names)]
    try:
        package = frictionless.Package.from_descriptor(
            descriptor | {"resources": part}, basepath=folder
        )
    except frictionless.FrictionlessException as error:
        says = [f"frictionless: {reason.message}" for reason in error.reasons or [error.error]]
        return dict.fromkeys(names, says)
    return {
        name: _problems(package.get_resource(name).validate().to_descriptor()) for name in names
    }


def load_frictionless() -> Any:  # noqa: ANN401 - a module whose types are not followed
    """Load frictionless.

    Raises:
        MissingExtraError: It is not installed.
    """
    try:
        import frictionless
    except ImportError as error:
        raise MissingExtraError(
            "making a release needs frictionless", next_step="pip install 'rigledger[curator]'"
        ) from error
    return frictionless


def _without_keys_to(held: dict[str, Any], names: Collection[str]) -> dict[str, Any]:
    keys = held.get("schema", {}).get("foreignKeys", [])
    kept = [key for key in keys if key["reference"].get("resource") not in names]
    if len(kept) == len(keys):
        return held
    schema = {key: value for key, value in held["schema"].items() if key != "foreignKeys"}
    return held | {"schema": schema | ({"foreignKeys": kept} if kept else {})}


def _problems(report: dict[str, Any]) -> list[str]:
    found = [str(text) for text in report["warnings"]]
    found += [str(error["message"]) for error in report["errors"]]
    for task in report["tasks"]:
        found += [f"{task['place']}: {text}" for text in task["warnings"]]
        found += [f"{task['place']}: {error['message']}" for error in task["errors"]]
    return [f"frictionless: {text}" for text in found]
