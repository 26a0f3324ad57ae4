"""Whether the files of a release are those that its hashes name."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from rigledger.files import files_below, parse_sha256sums, sha256_of
from rigledger.release.errors import RecheckError
from rigledger.release.folder import DESCRIPTOR, NOT_SUMMED, SUMS
from rigledger.release.outcome import Difference

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


def sums_differences(folder: Path) -> list[Difference]:
    """Hold the files of a release against its SHA256SUMS.

    Args:
        folder: The release.

    Returns:
        Files that were altered, are missing, or that the list doesn't name, in that order.

    Raises:
        RecheckError: There is no SHA256SUMS, or it can't be read.
    """
    recorded = read_sums(folder)
    present = [name for name in files_below(folder) if name not in NOT_SUMMED]
    return [
        *_altered(folder, recorded, present),
        *(
            Difference("missing", name, f"{name} is listed in {SUMS} and is not there")
            for name in sorted(set(recorded) - set(present))
        ),
        *(
            Difference("extra", name, f"{name} is not listed in {SUMS}")
            for name in present
            if name not in recorded
        ),
        *(
            Difference("altered", name, f"{name} is a link: a release holds its files itself")
            for name in present
            if (folder / name).is_symlink()
        ),
    ]


def _altered(folder: Path, recorded: dict[str, str], present: list[str]) -> Iterator[Difference]:
    for name in present:
        if name in recorded:
            found = sha256_of(folder / name)
            if found != recorded[name]:
                yield Difference(
                    "altered", name, f"{name} has other bytes than {SUMS} records",
                    recorded=recorded[name], found=found,
                )  # fmt: skip


def read_sums(folder: Path) -> dict[str, str]:
    """Read the SHA256SUMS of a release.

    Raises:
        RecheckError: It is not there, or a line is no hash and path.
    """
    try:
        return parse_sha256sums((folder / SUMS).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise RecheckError(
            f"is no release: its list of hashes can't be read ({error})", file=SUMS,
            next_step="name the folder, .zip or .tar of a release; SHA256SUMS is at its top",
        ) from error  # fmt: skip


def descriptor_differences(folder: Path, descriptor: dict[str, Any]) -> list[Difference]:
    """Hold the described files of a release against hash and size in its datapackage.json."""
    found = []
    for held in descriptor["resources"]:
        path = folder / held["path"]
        if not path.is_file():
            says = f"{held['path']} is described in {DESCRIPTOR} and is not there"
            found.append(Difference("missing", held["path"], says))
        elif f"sha256:{sha256_of(path)}" != held["hash"] or path.stat().st_size != held["bytes"]:
            says = f"{held['path']} has other bytes than {DESCRIPTOR} records"
            found.append(Difference("altered", held["path"], says, recorded=held["hash"]))
    return found


def read_descriptor(folder: Path) -> dict[str, Any]:
    """Read datapackage.json of a release, whose paths must stay inside it.

    Raises:
        RecheckError: It can't be read, lacks what a release needs, or a path leads elsewhere.
    """
    try:
        held: dict[str, Any] = json.loads((folder / DESCRIPTOR).read_text(encoding="utf-8"))
        paths = [(item["path"], item["hash"], item["bytes"]) for item in held["resources"]]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise RecheckError(
            f"can't be read as the description of a release: {error!r}", file=DESCRIPTOR,
            next_step="fetch the release again: this file was damaged or replaced",
        ) from error  # fmt: skip
    for path, _, _ in paths:
        if not isinstance(path, str) or path.startswith(("/", "\\")) or ".." in path.split("/"):
            raise RecheckError("a path leads out of the release", file=DESCRIPTOR, value=str(path))
    return held
