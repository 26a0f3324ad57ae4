"""What a recheck proves, and what it doesn't, in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.release.promises import promises

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rigledger.release.promises import Evidence

_NOT_FOLLOWED = (
    "That this is the release its authors published: whoever alters the runs and makes every "
    "other file again with this program leaves a release that follows. Compare the fingerprint "
    "with the one quoted where the release was published, or give the authors' key with --key."
)
_FIRST_USE = (
    "Whose key signed it: the key came with the release, as it would from a forger. Compare its "
    "fingerprint ({key}) with the one that the authors publish elsewhere; then keep the file "
    "SHA256SUMS.pem and give it with --key from now on, so that a release signed by anybody else "
    "is an error."
)
_OLDER = (
    "That its texts, description and page were made from its tables: it was written by contract "
    "{contract}, and this program makes others. The program that it names makes the same ones."
)
_REGISTER = (
    "That it is the newest release, and not retracted: the study's releases.toml says so "
    "(--register)."
)


def what_is_proven(evidence: Evidence) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Say in plain words what a check proves, and what it can't."""
    return tuple(_proven(evidence)), tuple(_not_proven(evidence))


def _proven(evidence: Evidence) -> Iterator[str]:
    held = {item.name for item in promises(evidence) if item.holds}
    told, whole = evidence.told, not evidence.integrity
    if whole:
        yield "The files are those that the release's own list of hashes names."
    if whole and evidence.older_contract:
        yield (
            f"Its tables are as the contract {evidence.older_contract} describes them, which is in "
            "the release as it was published."
        )
    if "derived_values" in held:
        yield "Every derived number follows from the runs that are in the release."
    if whole and "fingerprint" in told:
        yield "The release is the one whose fingerprint you gave, byte for byte."
    if whole and "key" in told:
        yield "The release was signed with the key you gave, and no byte of it was altered since."
    if whole and "register" in told:
        yield "The release is the newest in the register you gave, and it is not retracted."
    if "study" in told and not evidence.sets:
        yield (
            "The source tables and the findings follow from the result sets as they were handed "
            "in, whose hashes the release names."
        )


def _not_proven(evidence: Evidence) -> Iterator[str]:
    told = evidence.told
    yield "That the runs were measured as stated, or that no run was left out beforehand."
    if not told & {"fingerprint", "key", "register"}:
        yield _NOT_FOLLOWED
    if evidence.signed_with and "key" not in told:
        yield _FIRST_USE.format(key=evidence.signed_with)
    if evidence.older_contract:
        yield _OLDER.format(contract=evidence.older_contract)
    if "register" not in told:
        yield _REGISTER
    lacks_previous = evidence.has_previous and "previous" not in told
    if "deep" not in told or lacks_previous:
        needed = "--deep, and --previous" if lacks_previous else "--deep"
        yield f"The results of the expectations: they are shown as recorded ({needed})."
    if lacks_previous:
        yield "The list of what changed: it needs the release before (--previous)."
    if "study" not in told:
        yield (
            "The findings on the sets: they were made from the sets as handed in, which are not "
            "here (--deep with --study)."
        )
