"""Signs a release or a result set that lies in a folder."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.files import sha256_of, write_text
from rigledger.intake.gate import inspect
from rigledger.release.folder import DESCRIPTOR
from rigledger.release.integrity import sums_differences
from rigledger.signing import SUMS, UNSIGNED, SigningError, is_signed, sign_sums

if TYPE_CHECKING:
    from rigledger.signing import PrivateKey, PublicKey


def sign_folder(folder: Path, key: PrivateKey) -> PublicKey:
    """Sign a folder: a release as it stands, a result set after listing its files' hashes.

    Args:
        folder: A release or a result set.
        key: The private key.

    Returns:
        The public key that was laid beside the signature.

    Raises:
        SigningError: It is no folder, the release was altered or is signed by somebody else, or
            the set may not be handed in.
    """
    if not folder.is_dir():
        raise SigningError(
            "is no folder; only a folder can be signed", file=folder.name,
            next_step="put the filled kit into a folder of its own and name that folder",
        )  # fmt: skip
    if (folder / DESCRIPTOR).is_file():
        _refuse_altered(folder)
    else:
        write_text(folder / SUMS, _sums_of_set(folder))
    return sign_sums(folder, key)


def _refuse_altered(folder: Path) -> None:
    if is_signed(folder):
        raise SigningError("the release is signed already", file=folder.name)
    differences = sums_differences(folder)
    if differences:
        step = "sign the release as it was written, before anything in it is changed"
        raise SigningError(differences[0].says, file=differences[0].file, next_step=step)


def _sums_of_set(folder: Path) -> str:
    """List the hashes of the files that the gate lets in; what it ignores is not signed."""
    with tempfile.TemporaryDirectory(prefix="rigledger-") as name:
        seen = inspect(folder, Path(name))
    if seen.folder is None:
        first = next(one for one in seen.findings if one.severity == "error")
        raise SigningError(first.reason, file=first.file, next_step=first.next_step)
    names = [name for name in seen.files if name not in UNSIGNED]
    return "".join(f"{sha256_of(folder / name)}  {name}\n" for name in names)
