"""Keeps the last release as it was written, so that the same inputs give it again at once.

The key is a hash over everything a release follows from. What is kept is a link or a copy of each
file but the captures, which the study holds anyway; before it is used again every byte is held
against the release's own SHA256SUMS, and that list against the fingerprint. What was altered, or
can't be read or written, is made anew.
"""

from __future__ import annotations

import json
import platform
import shutil
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rigledger.files import (
    files_below,
    link_or_copy,
    place_below,
    remove,
    sha256_of,
    write_text,
)
from rigledger.release.errors import RecheckError
from rigledger.release.folder import SUMS
from rigledger.release.integrity import read_sums, sums_differences
from rigledger.release.register import RegisteredSet
from rigledger.remembered import key_of, versions_of
from rigledger.signing import UNSIGNED
from rigledger.tables import kept as kept_tables

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.release.write import ReleaseInputs, ReleaseResult
    from rigledger.study.layout import StudyFolder

_FOLDER, _NOTE, _CAPTURES = "release", "release.json", "captures/"
# Packages that make some of the bytes, or judge them.
_PACKAGES = (
    "duckdb", "frictionless", "great-expectations", "jinja2", "jsonschema", "markdown-it-py",
    "markupsafe", "numpy", "pandas", "pint", "polars", "pyarrow", "scipy", "tomli-w",
    "vl-convert-python",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class KeptRelease:
    """A release that was written before.

    Attributes:
        folder: Its files, but for captures and signature.
        name: Name of a release's folder: study and version.
        version: Its version.
        fingerprint: SHA-256 of its SHA256SUMS.
        sets: Its sets, for the register.
    """

    folder: Path
    name: str
    version: str
    fingerprint: str
    sets: tuple[RegisteredSet, ...]


def release_key(study: StudyFolder, inputs: ReleaseInputs) -> str:
    """Hash everything that a release of a study follows from.

    Signature and place of deposit are not in its files: whoever has the key signs it anew.
    """
    previous = inputs.previous
    claims = inputs.claims
    return key_of(
        kept_tables.key_of(study),
        sha256_of(claims) if claims is not None and claims.is_file() else None,
        versions_of(*_PACKAGES),
        [platform.python_version(), platform.platform()],
        previous and previous.earlier.fingerprint,
        [inputs.released_on.isoformat(), inputs.version, inputs.identifier],
        inputs.embargo_until and inputs.embargo_until.isoformat(),
    )


def kept_release(study: StudyFolder, key: str) -> KeptRelease | None:
    """Give the release that is kept for a key; None where there is none."""
    try:
        held: dict[str, Any] = json.loads((study.kept / _NOTE).read_text(encoding="utf-8"))
        sets = tuple(RegisteredSet(name, digest) for name, digest in held["sets"])
        found = KeptRelease(
            study.kept / _FOLDER, held["name"], held["version"], held["fingerprint"], sets
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return found if held.get("key") == key else None


class AlteredError(Exception):
    """What was kept of a release is no longer what was written."""


def put_back(kept: KeptRelease, folder: Path, captures: Path) -> None:
    """Fill a folder with a kept release.

    Args:
        kept: The release.
        folder: Empty folder.
        captures: Folder that holds the captures which are here.

    Raises:
        AlteredError: A byte is not as it was written.
    """
    try:
        sources = {
            name: captures / name.removeprefix(_CAPTURES)
            if name.startswith(_CAPTURES)
            else kept.folder / name
            for name in (SUMS, *read_sums(kept.folder))
        }
        place_below(sources, folder, shutil.copyfile)
        whole = sha256_of(folder / SUMS) == kept.fingerprint and not sums_differences(folder)
    except (FileNotFoundError, ValueError, RecheckError) as error:
        raise AlteredError from error
    if not whole:
        raise AlteredError


def keep_release(study: StudyFolder, key: str, made: ReleaseResult) -> None:
    """Keep a release that was just written, in place of the one before."""
    place = study.kept / _FOLDER
    note = {
        "key": key,
        "name": made.folder.name,
        "version": made.version,
        "fingerprint": made.fingerprint,
        "sets": [[held.set_id, held.sha256] for held in made.entry.sets],
    }
    try:
        (study.kept / _NOTE).unlink(missing_ok=True)
        remove(place)
        files = {
            name: made.folder / name
            for name in files_below(made.folder)
            if not name.startswith(_CAPTURES) and (name == SUMS or name not in UNSIGNED)
        }
        place_below(files, place, link_or_copy)
        write_text(study.kept / _NOTE, json.dumps(note, ensure_ascii=False, indent=2) + "\n")
    except OSError:
        return
