"""releases.toml: the register of a study's releases. Blocks are added, never changed."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import tomli_w

from rigledger.files import write_text
from rigledger.release.errors import ReleaseError
from rigledger.release.version import parse_version

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date
    from pathlib import Path

_HEADER = """\
# The register of releases. Written by the program, append-only: blocks are added, never changed.
# A release is superseded by the one after it; a [[retraction]] block takes one back, with a reason.
"""


@dataclass(frozen=True, slots=True)
class RegisteredSet:
    """A set that a release was made from."""

    set_id: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Entry:
    """A release in the register.

    Attributes:
        version: Its version.
        released_on: Its day.
        fingerprint: SHA-256 of its SHA256SUMS.
        previous_fingerprint: Fingerprint of the release before; None for the first.
        rigledger: Version of the program that made it.
        deposited_at: Where it was deposited; None where that isn't known.
        sets: Sets whose rows are in it, and tombstones.
        signed_with: Fingerprint of the key that signed it; None where it was not signed.
        status: ``published``, ``superseded`` or ``retracted``, as later blocks have it.
        reason: Why it was retracted.
        retracted_on: Day on which it was retracted.
        contract: Version of the contract by which it was written; None where that wasn't noted.
    """

    version: str
    released_on: date
    fingerprint: str
    previous_fingerprint: str | None
    rigledger: str
    deposited_at: str | None
    sets: tuple[RegisteredSet, ...]
    signed_with: str | None = None
    status: str = "published"
    reason: str | None = None
    retracted_on: date | None = None
    contract: str | None = None


def read_register(path: Path) -> tuple[Entry, ...]:
    """Read the register, oldest release first; a missing file holds none.

    Raises:
        ReleaseError: It can't be read, a block lacks a key, or the chain of releases is broken: a
            release that doesn't name the one before, or has no higher version or an earlier day.
    """
    if not path.exists():
        return ()
    try:
        held = tomllib.loads(path.read_text(encoding="utf-8"))
        retracted = {item["version"]: item for item in held.get("retraction", [])}
        blocks = held.get("release", [])
        entries = tuple(
            _entry(block, retracted.get(block["version"]), is_last=number == len(blocks))
            for number, block in enumerate(blocks, start=1)
        )
    except (OSError, tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise ReleaseError(
            f"the register can't be read: {error}", file=path.name,
            next_step="restore the file from the study's history; releases are never edited in it",
        ) from error  # fmt: skip

    _verify(path, entries, retracted)
    return entries


def _verify(path: Path, entries: tuple[Entry, ...], retracted: Mapping[str, Any]) -> None:
    """Follow the chain of releases, as it was added to."""
    for before, entry in zip((None, *entries), entries, strict=False):
        if entry.previous_fingerprint != (before and before.fingerprint):
            raise _broken(path, entry, "doesn't name the fingerprint of the release before it")
        if before and parse_version(entry.version) <= parse_version(before.version):
            raise _broken(path, entry, f"has no higher version than {before.version} before it")
        if before and entry.released_on < before.released_on:
            raise _broken(path, entry, f"is dated before {before.version}, which it follows")
    unknown = sorted(retracted.keys() - {entry.version for entry in entries})
    if unknown:
        raise ReleaseError(
            "a retraction names a release that is not registered", file=path.name,
            column="retraction", value=unknown[0],
            next_step="restore the file from the study's history",
        )  # fmt: skip


def _broken(path: Path, entry: Entry, what: str) -> ReleaseError:
    return ReleaseError(
        f"the register was edited: release {entry.version} {what}", file=path.name,
        column="release", value=entry.version,
        next_step="restore the file from the study's history; blocks are added, never changed",
    )  # fmt: skip


def _entry(block: dict[str, Any], retraction: Mapping[str, Any] | None, *, is_last: bool) -> Entry:
    current = "published" if is_last else "superseded"
    return Entry(
        version=block["version"],
        released_on=block["released_on"],
        fingerprint=block["fingerprint"],
        previous_fingerprint=block.get("previous_fingerprint"),
        rigledger=block["rigledger"],
        deposited_at=block.get("deposited_at"),
        signed_with=block.get("signed_with"),
        sets=tuple(RegisteredSet(item["set_id"], item["sha256"]) for item in block["sets"]),
        status="retracted" if retraction else current,
        reason=retraction["reason"] if retraction else None,
        retracted_on=retraction.get("on") if retraction else None,
        contract=block.get("contract"),
    )


def append_entry(path: Path, entry: Entry) -> None:
    """Add a release to the register: what stands in it stays as it is, byte for byte.

    Raises:
        ReleaseError: The version is registered already, or the release before is not the last one.
    """
    known = read_register(path)
    if entry.version in {held.version for held in known}:
        raise ReleaseError(
            "the version is registered already", file=path.name, column="version",
            value=entry.version,
            next_step="a published version never changes: make the next one",
        )  # fmt: skip
    last = known[-1].fingerprint if known else None
    if entry.previous_fingerprint != last:
        raise ReleaseError(
            "the release was not made from the last one in the register", file=path.name,
            column="previous_fingerprint", value=entry.previous_fingerprint,
            next_step=f"compare with the release whose fingerprint is {last}",
        )  # fmt: skip
    text = path.read_text(encoding="utf-8") if path.exists() else _HEADER
    write_text(path, text + "\n" + _block(entry))


def _block(entry: Entry) -> str:
    held = {
        "version": entry.version,
        "released_on": entry.released_on,
        "fingerprint": entry.fingerprint,
        "previous_fingerprint": entry.previous_fingerprint,
        "rigledger": entry.rigledger,
        "contract": entry.contract,
        "deposited_at": entry.deposited_at,
        "signed_with": entry.signed_with,
        "status": "published",
        "sets": [{"set_id": held.set_id, "sha256": held.sha256} for held in entry.sets],
    }
    stated = {key: value for key, value in held.items() if value is not None}
    return tomli_w.dumps({"release": [stated]})
