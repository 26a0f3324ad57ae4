"""Whether a set is signed, by whom, and whether that is who signed the contributor's sets before.

The key of the first signed set is believed (nothing else could be known of it then); from then on
it has to be the same one, or a curator says in a waiver why it is another.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.errors import MissingExtraError
from rigledger.files import parse_sha256sums, sha256_of
from rigledger.intake.result import NotRun
from rigledger.signing import SIGNATURE, SIGNER, SUMS, UNSIGNED, SigningError, signer_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from rigledger.intake.gate import GateResult
    from rigledger.intake.log import FindingLog
    from rigledger.signing import PublicKey

_RULES = ("signature_wrong", "signed_with_other_key", "signature_expected")


def check_signature(
    seen: GateResult, study: Path | None, set_id: str | None, log: FindingLog
) -> list[NotRun]:
    """Judge a set's signature, or the lack of one.

    Args:
        seen: The set as the gate let it through.
        study: The study's folder; None judges the signature by itself.
        set_id: ``contributor.set``; None where the set doesn't say.
        log: Takes the findings.

    Returns:
        The rules that could not run, where the package that verifies is not installed.
    """
    if seen.folder is None:
        return []
    known = _known_keys(study, set_id)
    if SIGNATURE not in seen.files:
        if known:
            log.add(
                "signature_expected", f"the contributor's earlier sets are signed with {known[-1]}"
            )
        return []
    try:
        key = signer_of_set(seen.folder, seen.files)
    except MissingExtraError as error:
        return [NotRun(rule, f"{error.message}: {error.next_step}") for rule in _RULES[:2]]
    except (SigningError, OSError, ValueError) as error:
        file = error.file if isinstance(error, SigningError) and error.file else SIGNATURE
        reason = error.message if isinstance(error, SigningError) else str(error)
        log.add("signature_wrong", reason, file=file)
        return []
    if known and key.fingerprint not in known:
        reason = f"earlier sets of this contributor were signed with {known[0]}"
        log.add("signed_with_other_key", reason, file=SIGNER, value=key.fingerprint)
    return []


def signer_of_set(folder: Path, files: Sequence[str]) -> PublicKey:
    """Give the key with which a set was signed, over exactly its files.

    Args:
        folder: The set.
        files: Its files, relative.

    Returns:
        The key that lies beside the signature.

    Raises:
        SigningError: The signature doesn't fit, or the signed list isn't that of the files.
        MissingExtraError: ``cryptography`` is not installed.
        ValueError: The list of hashes can't be read.
        OSError: A file can't be read.
    """
    for name in (SUMS, SIGNER):
        if name not in files:
            raise SigningError(
                "the set is signed, and this file of the signature is not there", name
            )
    key = signer_of(folder)
    listed = parse_sha256sums((folder / SUMS).read_text(encoding="utf-8"))
    held = {name: sha256_of(folder / name) for name in files if name not in UNSIGNED}
    other = sorted(
        name for name in held.keys() | listed.keys() if held.get(name) != listed.get(name)
    )
    if other:
        says = f"not as it was signed: {', '.join(other[:3])}"
        raise SigningError(says, file=other[0])
    return key


def _known_keys(study: Path | None, set_id: str | None) -> list[str]:
    """List the keys of the contributor's sets that were admitted before this one."""
    if study is None or set_id is None:
        return []
    from rigledger.study.decisions import read_decisions
    from rigledger.study.layout import open_study

    contributor = set_id.split(".", 1)[0]
    keys: list[str] = []
    for item in read_decisions(open_study(study).decisions).decisions:
        if item.set_id == set_id:
            break
        if item.contributor == contributor and item.signed_with:
            keys.append(item.signed_with)
    return list(dict.fromkeys(keys))
