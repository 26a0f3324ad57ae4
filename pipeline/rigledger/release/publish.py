"""Publishes a version of a study: from its folder to a release and a row of the register."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from rigledger.contract import load_contract
from rigledger.database import connect
from rigledger.garbage import searched_later
from rigledger.release.errors import ReleaseError
from rigledger.release.judges import judges_beside, judges_here
from rigledger.release.kept import AlteredError, keep_release, kept_release, release_key
from rigledger.release.previous import find_previous
from rigledger.release.register import append_entry, read_register
from rigledger.release.set_findings import findings_of
from rigledger.release.write import (
    ReleaseInputs,
    ReleaseResult,
    write_kept_release,
    write_release,
)
from rigledger.remembered import Remembered
from rigledger.study.housekeeping import keep_out_of_versions
from rigledger.study.load import load_source
from rigledger.study.locking import locked
from rigledger.tables.analysis import STATISTICS

if TYPE_CHECKING:
    from datetime import date

    from rigledger.signing import PrivateKey
    from rigledger.study.layout import StudyFolder


def release(
    study: StudyFolder,
    *,
    released_on: date,
    version: str | None = None,
    out: Path | None = None,
    previous: Path | None = None,
    identifier: str | None = None,
    deposited_at: str | None = None,
    embargo_until: date | None = None,
    key: PrivateKey | None = None,
    threads: int | None = None,
    beside: bool = False,
) -> ReleaseResult:
    """Publish a version of a study.

    Args:
        study: The study.
        released_on: Day of the release; sets under embargo on that day are left out.
        version: Version to publish; None for the one that follows from the change.
        out: Folder of the releases; None for ``releases`` in the study's folder. The release
            becomes ``<out>/<study>-<version>``.
        previous: The release before, or a folder that holds it; None for ``out``.
        identifier: A reserved persistent identifier, such as ``10.1234/abc``.
        deposited_at: Where it will be deposited, for the register.
        embargo_until: Day before which an archive must not open the deposit.
        key: Private key that signs it; None leaves it unsigned.
        threads: DuckDB threads; the bytes don't depend on it.
        beside: Whether a process beside judges the release, which is worth while for the first
            one that a process makes.

    Returns:
        Folder, version and fingerprint.

    Raises:
        ReleaseError: The release before is missing or altered, the version understates the
            change, an expectation that gates fails, or the package would not be valid. Nothing is
            written then.
        StudyError: A file of the study is wrong.
        StudyLockedError: Another process is writing to the study.
        StorageError: The disk refuses, or a file vanished; no release is registered.
        MissingExtraError: A package of the curator's install is missing.
    """
    with (
        searched_later(),
        locked(study, "release"),
        TemporaryDirectory(prefix="rigledger-") as scratch,
    ):
        place = out or study.published
        inputs = ReleaseInputs(
            released_on=released_on,
            version=version,
            previous=find_previous(read_register(study.releases), previous or place, Path(scratch)),
            identifier=identifier,
            deposited_at=deposited_at,
            captures=study.captures,
            claims=study.claims,
            embargo_until=embargo_until,
            key=key,
        )
        key_before = release_key(study, inputs)
        result = _again(study, key_before, inputs, place)
        if result is not None:
            _register(study, result)
            return result
        with judges_beside() if beside else judges_here() as judges:
            result = _made(study, replace(inputs, judges=judges), place, threads)
        _register(study, result)
        if release_key(study, inputs) == key_before:
            keep_release(study, key_before, result)
    return result


def _again(
    study: StudyFolder, key: str, inputs: ReleaseInputs, place: Path
) -> ReleaseResult | None:
    """Write the release that is kept for the same inputs; None where there is none, whole."""
    kept = kept_release(study, key)
    if kept is None:
        return None
    try:
        return write_kept_release(kept, inputs, study.captures, place)
    except AlteredError:
        return None


def _made(
    study: StudyFolder, inputs: ReleaseInputs, place: Path, threads: int | None
) -> ReleaseResult:
    contract = load_contract()
    remembered = Remembered(study.kept / "judged.json")
    statistics = Remembered(study.kept / STATISTICS)
    with (
        TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as shared,
        connect(threads=threads) as con,
    ):
        found = findings_of(study, inputs.released_on, Path(shared), remembered, inputs.judges)
        design = load_source(study, con, contract)
        given = replace(inputs, findings=found, remembered=remembered, statistics=statistics)
        result = write_release(con, design, contract, given, place)
    if keep_out_of_versions(study):
        remembered.keep()
        statistics.keep(forget=False)
    return result


def _register(study: StudyFolder, result: ReleaseResult) -> None:
    try:
        append_entry(study.releases, result.entry)
    except OSError as error:
        raise ReleaseError(
            f"the release was written and could not be registered: {error}",
            file=study.releases.name, value=result.fingerprint,
            next_step="see that the file can be written, then release again",
        ) from error  # fmt: skip
