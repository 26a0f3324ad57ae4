"""Key pairs and signatures over a list of hashes: Ed25519 (RFC 8032), keys in standard files.

A private key is a PEM file in PKCS #8, a public key a PEM file in SubjectPublicKeyInfo (RFC 8410);
a signature is the 64 bytes of RFC 8032, so that other programs check it too::

    openssl pkeyutl -verify -pubin -inkey SHA256SUMS.pem -rawin -in SHA256SUMS \
        -sigfile SHA256SUMS.sig
"""

from __future__ import annotations

import base64
import hashlib
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.errors import MissingExtraError, RigledgerError
from rigledger.files import write_bytes

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

SUMS = "SHA256SUMS"
SIGNATURE = "SHA256SUMS.sig"
SIGNER = "SHA256SUMS.pem"
UNSIGNED = frozenset({SUMS, SIGNATURE, SIGNER})
"""What a list of hashes doesn't list: itself, its signature, and the key that made it."""

_LARGEST = 64 * 1024


class SigningError(RigledgerError, ValueError):
    """A key can't be read or used."""

    code = "signing"


@dataclass(frozen=True, slots=True)
class PublicKey:
    """A public key.

    Attributes:
        raw: Its 32 bytes, as RFC 8032 has them.
    """

    raw: bytes

    @property
    def der(self) -> bytes:
        """Its SubjectPublicKeyInfo: RFC 8410's fixed 12 bytes for Ed25519, then the key."""
        return bytes.fromhex("302a300506032b6570032100") + self.raw

    @property
    def fingerprint(self) -> str:
        """SHA-256 of its SubjectPublicKeyInfo, in hexadecimal."""
        return hashlib.sha256(self.der).hexdigest()

    @property
    def line(self) -> str:
        """The key in one line: its SubjectPublicKeyInfo in base64, as between the PEM's marks."""
        return base64.b64encode(self.der).decode("ascii")

    @property
    def pem(self) -> bytes:
        """The key as a PEM file."""
        return f"-----BEGIN PUBLIC KEY-----\n{self.line}\n-----END PUBLIC KEY-----\n".encode()


@dataclass(frozen=True, slots=True)
class PrivateKey:
    """A private key, able to sign."""

    held: Ed25519PrivateKey

    @property
    def public(self) -> PublicKey:
        """The public key that belongs to it."""
        return PublicKey(self.held.public_key().public_bytes_raw())

    def sign(self, data: bytes) -> bytes:
        """Sign bytes; the same bytes always give the same 64."""
        return self.held.sign(data)


def new_key_pair(place: Path, passphrase: str | None = None) -> tuple[Path, Path, PublicKey]:
    """Make a key pair and write it as two files that don't exist yet.

    Args:
        place: Where: ``anna`` gives ``anna.key.pem``, to be kept secret, and ``anna.pem``.
        passphrase: Locks the private key's file; None leaves it open.

    Returns:
        The private key's file, the public key's file, the public key.

    Raises:
        SigningError: One of the files exists: a key is never overwritten.
        MissingExtraError: ``cryptography`` is not installed.
    """
    ed25519, serialization = _ed25519(), _serialization()
    secret, public = (place.with_name(f"{place.name}{end}") for end in (".key.pem", ".pem"))
    for path in (secret, public):
        if path.exists():
            step = "give the new pair another name; a lost key can't be made again"
            raise SigningError("the file exists already", file=str(path), next_step=step)
    held = ed25519.Ed25519PrivateKey.generate()
    lock = (
        serialization.BestAvailableEncryption(passphrase.encode("utf-8"))
        if passphrase
        else serialization.NoEncryption()
    )
    text = held.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, lock)
    _write_secret(secret, text)
    key = PrivateKey(held).public
    write_bytes(public, key.pem)
    return secret, public, key


def _write_secret(path: Path, data: bytes) -> None:
    """Write a file that only its owner may read, where the system knows owners."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as stream:
        stream.write(data)


def read_private_key(path: Path, passphrase: str | None = None) -> PrivateKey:
    """Read a private key from a PEM file in PKCS #8.

    Raises:
        SigningError: It can't be read, is locked by another passphrase, or is no Ed25519 key.
        MissingExtraError: ``cryptography`` is not installed.
    """
    serialization = _serialization()
    word = passphrase.encode("utf-8") if passphrase else None
    try:
        held = serialization.load_pem_private_key(_bytes_of(path), word)
    except TypeError as error:
        step = "give its passphrase" if passphrase is None else "leave the passphrase out"
        raise SigningError(str(error), file=path.name, next_step=step) from error
    except ValueError as error:
        raise SigningError(
            "can't be read as a private key (PEM, PKCS #8), or the passphrase is another one",
            file=path.name, next_step="name the file that ends in .key.pem",
        ) from error  # fmt: skip
    if not isinstance(held, _ed25519().Ed25519PrivateKey):
        raise _other_kind(path)
    return PrivateKey(held)


def is_locked(path: Path) -> bool:
    """Say whether a private key's file asks for a passphrase.

    Raises:
        SigningError: It can't be read.
    """
    return b"ENCRYPTED PRIVATE KEY" in _bytes_of(path)


def read_public_key(path: Path) -> PublicKey:
    """Read a public key from a PEM file in SubjectPublicKeyInfo.

    Raises:
        SigningError: It can't be read, or is no Ed25519 key.
        MissingExtraError: ``cryptography`` is not installed.
    """
    try:
        held = _serialization().load_pem_public_key(_bytes_of(path))
    except ValueError as error:
        raise SigningError(
            "can't be read as a public key (PEM, SubjectPublicKeyInfo)", file=path.name,
            next_step="name the .pem file that the signer published; never a .key.pem file",
        ) from error  # fmt: skip
    if not isinstance(held, _ed25519().Ed25519PublicKey):
        raise _other_kind(path)
    return PublicKey(held.public_bytes_raw())


def _bytes_of(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(_LARGEST)
    except OSError as error:
        raise SigningError(
            f"can't be read: {error.strerror}", file=str(path), next_step="name the key's file"
        ) from error


def _other_kind(path: Path) -> SigningError:
    step = "make a pair with rigledger key"
    return SigningError("is a key of another kind than Ed25519", file=path.name, next_step=step)


def sign_sums(folder: Path, key: PrivateKey) -> PublicKey:
    """Sign the SHA256SUMS of a folder: writes the signature and the public key beside it."""
    signature = key.sign((folder / SUMS).read_bytes())
    write_bytes(folder / SIGNATURE, signature)
    write_bytes(folder / SIGNER, key.public.pem)
    return key.public


def signs(key: PublicKey, signature: bytes, data: bytes) -> bool:
    """Say whether a signature over bytes was made with the private half of a key.

    Raises:
        MissingExtraError: ``cryptography`` is not installed.
    """
    ed25519 = _ed25519()
    from cryptography.exceptions import InvalidSignature

    try:
        ed25519.Ed25519PublicKey.from_public_bytes(key.raw).verify(signature, data)
    except InvalidSignature:
        return False
    return True


def is_signed(folder: Path) -> bool:
    """Say whether a folder holds a signature, right or wrong."""
    return (folder / SIGNATURE).is_file()


def signer_of(folder: Path, expected: PublicKey | None = None) -> PublicKey:
    """Give the key with which the SHA256SUMS of a folder was signed.

    Args:
        folder: Folder with SHA256SUMS, its signature and the signer's public key.
        expected: The key that must have signed it; None for the one that lies beside it.

    Raises:
        SigningError: There is no signature, it was made with another key or over another list, or
            the key beside it is another than the one expected.
        MissingExtraError: ``cryptography`` is not installed.
    """
    if not is_signed(folder):
        raise SigningError("the list of hashes is not signed", file=SIGNATURE)
    beside = read_public_key(folder / SIGNER) if (folder / SIGNER).is_file() else None
    key = expected or beside
    if key is None:
        raise SigningError("the signer's public key is not there", file=SIGNER)
    if not signs(key, _bytes_of(folder / SIGNATURE), (folder / SUMS).read_bytes()):
        whose = "the key given" if expected else "the key beside it"
        says = f"the signature was not made over this {SUMS} with {whose}"
        raise SigningError(says, file=SIGNATURE, value=key.fingerprint)
    if beside is not None and beside != key:
        says = "the key beside the signature is not the one that was given"
        raise SigningError(says, file=SIGNER, value=beside.fingerprint)
    return key


def _ed25519() -> ModuleType:
    try:
        from cryptography.hazmat.primitives.asymmetric import ed25519
    except ImportError as error:
        raise _missing() from error
    return ed25519


def _serialization() -> ModuleType:
    try:
        from cryptography.hazmat.primitives import serialization
    except ImportError as error:
        raise _missing() from error
    return serialization


def _missing() -> MissingExtraError:
    return MissingExtraError(
        "keys and signatures need the package cryptography",
        next_step='pip install "rigledger[signing]"',
    )
