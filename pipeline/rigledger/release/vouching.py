"""Who vouches for a release: its signature, and the register in which it stands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.release.folder import SUMS
from rigledger.release.outcome import Difference
from rigledger.release.register import read_register
from rigledger.signing import SIGNATURE, SigningError, is_signed, signer_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from rigledger.release.register import Entry
    from rigledger.signing import PublicKey


def signature_differences(
    folder: Path, key: PublicKey | None
) -> tuple[list[Difference], str | None]:
    """Hold the signature of a release against a key, or against the key that came with it.

    Args:
        folder: The release.
        key: The key that must have signed it; None where the reader has none.

    Returns:
        What is wrong, and the fingerprint of the key with which it is rightly signed, if it is.

    Raises:
        MissingExtraError: ``cryptography`` is not installed.
    """
    if key is None and not is_signed(folder):
        return [], None
    try:
        return [], signer_of(folder, key).fingerprint
    except SigningError as error:
        recorded = key.fingerprint if key else None
        file = error.file or SIGNATURE
        return [Difference("signature", file, error.message, recorded=recorded)], None


def register_differences(fingerprint: str, register: Path) -> list[Difference]:
    """Look a release up in its study's register, as published by its authors.

    Args:
        fingerprint: Of the release.
        register: The study's releases.toml.

    Returns:
        Whether it is not listed, was retracted, or is not the newest one.

    Raises:
        ReleaseError: The register can't be read.
    """
    entries = read_register(register)
    found = next((item for item in entries if item.fingerprint == fingerprint), None)
    if found is None:
        says = "the register lists no release of this fingerprint"
        return [Difference("register", SUMS, says, found=fingerprint)]
    problem = _problem(found, entries[-1])
    return [Difference("register", SUMS, problem)] if problem else []


def _problem(found: Entry, newest: Entry) -> str | None:
    if found.status == "retracted":
        return f"{found.version} was retracted: {found.reason}"
    if found is not newest:
        return f"{found.version} is not the newest release: {newest.version} is"
    return None


def key_note(entries: Sequence[Entry]) -> str | None:
    """Say that the newest release isn't signed as the one before; None where nothing changed.

    Args:
        entries: The register, oldest first.
    """
    if len(entries) < 2 or entries[-2].signed_with in {None, entries[-1].signed_with}:
        return None
    before, newest = entries[-2], entries[-1]
    now = f"with another, {newest.signed_with}" if newest.signed_with else "not at all"
    return (
        f"Note: {before.version} was signed with the key {before.signed_with}, this one {now}. For "
        "readers who kept that key, the release is an error until you tell them elsewhere why."
    )
