"""Takes a checked result set into a study: all of it or nothing.

Captures are stored first, then the set's folder is renamed into place, then the decision is
written. The decision is what makes a set admitted: whatever an interruption leaves before it is
ignored, and replaced when the set is admitted again.
"""

from __future__ import annotations

import shutil
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.contract import load_contract
from rigledger.errors import StudyError, near_names
from rigledger.files import (
    make_folder,
    parse_sha256sums,
    place_below,
    place_beside,
    remove,
    sha256_of,
    sync_folder,
    sync_tree,
)
from rigledger.intake.apart import check_apart
from rigledger.intake.gate import inspect
from rigledger.signing import SIGNATURE, SUMS
from rigledger.study.admitted import folder_sums
from rigledger.study.decisions import (
    Decision,
    Decisions,
    Waiver,
    read_decisions,
    write_decisions,
)
from rigledger.study.housekeeping import keep_bytes
from rigledger.study.locking import locked

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from rigledger.contract import Contract
    from rigledger.intake.result import CheckResult
    from rigledger.study.layout import StudyFolder

# A curator may waive judgements on readable values; a set that can't be read can't be waived in.
_WAIVABLE = frozenset({"check", "sql", "captures", "keys"})


@dataclass(frozen=True, slots=True)
class AdmitResult:
    """What came of admitting one set.

    Attributes:
        check: The whole check.
        decision: The decision as recorded; None where the set was returned and the study is
            untouched.
    """

    check: CheckResult
    decision: Decision | None

    @property
    def admitted(self) -> bool:
        """Whether the set is now part of the study."""
        return self.decision is not None


@dataclass(frozen=True, slots=True)
class _Staged:
    """A set's files, copied beside the sets of the study."""

    folder: Path
    sha256: str
    said: Mapping[str, str]
    signed_with: str | None = None


def admit(
    study: StudyFolder,
    path: Path,
    *,
    received_on: dt.date,
    supersedes: str | None = None,
    waivers: Sequence[Waiver] = (),
    expected: Sequence[Waiver] = (),
    meanwhile: Callable[[], object] = lambda: None,
) -> AdmitResult:
    """Check a set and take it into the study.

    Args:
        study: The study.
        path: Folder, .zip archive or .xlsx workbook as handed in.
        received_on: Day of the decision; never the clock's.
        supersedes: Id of the set that it replaces whole; None for what the set itself says.
        waivers: Rules that return the set and are waived by name, each with its reason.
        expected: The same, for rules that may find nothing; such a one is not recorded.
        meanwhile: What this process does while another one checks the set.

    Returns:
        The check and, unless the set was returned, the decision.

    Raises:
        StudyError: A waiver names an unknown rule, one that can't be waived or found nothing; the
            same set is already there; what it supersedes is unknown or not in force; a file of the
            set changed since it was checked.
        StudyLockedError: Another process is writing to the study.
        StorageError: The disk refuses, or a file of the set vanished; the study is unchanged.
        IntakeError: There is nothing at ``path`` that could be a set.
    """
    contract = load_contract()
    with tempfile.TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as name:
        scratch = Path(name)
        both = (waivers, expected)
        judged = _judge(study, path, both, contract, scratch / "first", meanwhile=meanwhile)
        if not judged.passes:
            # Before the lock: a set that is returned leaves not even a lock file in the study.
            return AdmitResult(judged.check, None)
        with locked(study, "admit"):
            if read_decisions(study.decisions, contract) != judged.decisions:
                judged = _judge(study, path, both, contract, scratch / "second")
            if not judged.passes:
                return AdmitResult(judged.check, None)
            handed = _Handed(path, scratch, judged, received_on, supersedes)
            decision = _admit(study, judged.decisions, handed, contract)
            _keep_extracts(study, judged.left, judged.decisions.with_decision(decision))
    return AdmitResult(judged.check, decision)


def _extracts(left: Path) -> Path:
    """Give the folder beside what a check leaves of its set for what it leaves of other sets."""
    return left.with_name(f"{left.name}-extracts")


def _keep_extracts(study: StudyFolder, left: Path, decisions: Decisions) -> None:
    """Keep what a check read of the study's sets, for the check of the next one."""
    from rigledger.intake.extracts import keep_extracts

    sums = {one.set_id: one.sha256 for one in decisions.in_force}
    keep_extracts(study.kept, _extracts(left), sums)


@dataclass(frozen=True, slots=True)
class _Judged:
    """A set as judged against the decisions that held at that time; ``left``: for `handed_over`."""

    decisions: Decisions
    check: CheckResult
    waivers: tuple[Waiver, ...]
    left: Path

    @property
    def passes(self) -> bool:
        return self.check.set_id is not None and _passes(self.check, self.waivers)


def _judge(
    study: StudyFolder,
    path: Path,
    waivers: tuple[Sequence[Waiver], Sequence[Waiver]],
    contract: Contract,
    left: Path,
    *,
    meanwhile: Callable[[], object] = lambda: None,
) -> _Judged:
    decisions = read_decisions(study.decisions, contract)

    def ahead() -> None:
        # What an admission needs besides is loaded while the other process is at work.
        for name in ("intake.extracts", "study.set_captures"):
            import_module(f"rigledger.{name}")
        meanwhile()

    check = check_apart(path, study.root, keep=left, extracts=_extracts(left), meanwhile=ahead)
    _refuse_known(decisions, check)
    asked, expected = waivers
    found = {finding.rule for finding in check.findings if finding.severity == "error"}
    needed = [*asked, *(waiver for waiver in expected if waiver.rule in found)]
    return _Judged(decisions, check, tuple(_used_waivers(check, needed, contract)), left)


@dataclass(frozen=True, slots=True)
class _Handed:
    path: Path
    scratch: Path
    judged: _Judged
    received_on: dt.date
    supersedes: str | None


def _refuse_known(decisions: Decisions, check: CheckResult) -> None:
    """Say that a set is known before saying that its runs are copies of its own."""
    earlier = decisions.decision(check.set_id) if check.set_id else None
    if earlier:
        raise StudyError(
            f"{earlier.set_id} was already admitted on {earlier.received_on}",
            value=earlier.set_id,
            next_step=(
                "if it has more runs or mended ones, give it a name of its own and state in"
                " supersedes which set it replaces"
            ),
        )


def _admit(
    study: StudyFolder, decisions: Decisions, handed: _Handed, contract: Contract
) -> Decision:
    with _staged(study, handed, contract) as staged:
        decision = _decision(handed, staged)
        after = decisions.with_decision(decision)
        _refuse_same_files(study, decisions, staged)
        target = study.set_folder(decision.set_id)
        remove(target)  # without a decision, what lies there is no part of the study
        staged.folder.rename(target)
        sync_folder(study.sets)
        keep_bytes(study)
        write_decisions(study.decisions, after)
    return decision


def _used_waivers(
    check: CheckResult, waivers: Sequence[Waiver], contract: Contract
) -> list[Waiver]:
    errors = {finding.rule for finding in check.findings if finding.severity == "error"}
    for waiver in waivers:
        rule = contract.rules.get(waiver.rule)
        if rule is None:
            raise _waiver_error(waiver, "no rule", near_names(waiver.rule, contract.rules))
        if rule.found_by not in _WAIVABLE:
            step = "have the set mended and handed in again"
            raise _waiver_error(waiver, "a set that can't be read can't be waived in:", step)
        if waiver.rule not in errors:
            step = near_names(waiver.rule, errors) or "leave the waiver out"
            raise _waiver_error(waiver, "the check doesn't return the set for", step)
        if not waiver.reason.strip():
            raise _waiver_error(waiver, "a waiver needs a reason:", "say why")
    return sorted(waivers, key=lambda waiver: waiver.rule)


def _waiver_error(waiver: Waiver, message: str, step: str) -> StudyError:
    text = f"{message} {waiver.rule!r}"
    return StudyError(text, column="waivers", value=waiver.rule, next_step=step or None)


def _passes(check: CheckResult, waivers: Sequence[Waiver]) -> bool:
    waived = {waiver.rule for waiver in waivers}
    return all(finding.severity != "error" or finding.rule in waived for finding in check.findings)


@contextmanager
def _staged(study: StudyFolder, handed: _Handed, contract: Contract) -> Iterator[_Staged]:
    """Copy a set beside the study's sets and store its captures; an unused copy is removed."""
    from rigledger.intake.handover import handed_over
    from rigledger.study.set_captures import store_captures

    make_folder(study.sets)
    place = handed.scratch / "staged"
    place.mkdir()
    seen = inspect(handed.path, place)
    if seen.folder is None:
        raise _changed(handed)
    folder = place_beside(study.sets / "set")
    folder.mkdir()
    try:
        sums = _copy(seen.folder, [name for name in seen.files if name != SUMS], folder)
        checked = handed_over(handed.judged.left)
        if checked is not None and checked.sums != sums:
            raise _changed(handed)
        said = store_captures(study, folder, contract, checked)
        yield _Staged(folder, sha256_of(folder / SUMS), said, _signed_with(folder, seen.files))
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _changed(handed: _Handed) -> StudyError:
    return StudyError(
        "the set changed since it was checked",
        file=str(handed.path),
        next_step="admit it again when it is as it should be",
    )


def _signed_with(folder: Path, files: Sequence[str]) -> str | None:
    """Give the fingerprint of the key that signed a copied set; None where it is not signed."""
    if SIGNATURE not in files:
        return None
    from rigledger.intake.signature import signer_of_set

    return signer_of_set(folder, files).fingerprint


def _copy(source: Path, names: Sequence[str], folder: Path) -> dict[str, str]:
    """Copy a set's files and write their checksums, which are given: path to SHA-256."""
    place_below({name: source / name for name in names}, folder, shutil.copyfile)
    sums = folder_sums(folder)
    (folder / SUMS).write_text(sums, encoding="utf-8", newline="\n")
    sync_tree(folder)
    return parse_sha256sums(sums)


def _decision(handed: _Handed, staged: _Staged) -> Decision:
    said = staged.said
    contributor = said["contributor"]
    own = f"{contributor}.{said['supersedes']}" if said.get("supersedes") else None
    if handed.supersedes and own and own != handed.supersedes:
        raise StudyError(
            f"the set says that it supersedes {own}, not {handed.supersedes}",
            column="supersedes",
            value=handed.supersedes,
        )
    until = said.get("embargo_until")
    return Decision(
        set_id=f"{contributor}.{said['set']}",
        contributor=contributor,
        received_on=handed.received_on,
        verdict=handed.judged.check.verdict,
        sha256=staged.sha256,
        licence=said["licence"],
        consent_version=said["consent_version"],
        supersedes=handed.supersedes or own,
        embargo_until=_day(until) if until else None,
        signed_with=staged.signed_with,
        waivers=handed.judged.waivers,
    )


def _day(text: str) -> dt.date:
    from datetime import date

    return date.fromisoformat(text)


def _refuse_same_files(study: StudyFolder, decisions: Decisions, staged: _Staged) -> None:
    """Refuse a set whose files are another's, whatever it is called now."""
    digests = _digests(staged.folder)
    for earlier in decisions.decisions:
        same = earlier.sha256 == staged.sha256
        if same or _digests(study.set_folder(earlier.set_id)) == digests:
            raise StudyError(
                f"these files were already admitted on {earlier.received_on} as {earlier.set_id}",
                value=earlier.set_id,
                next_step="nothing needs to be done; a set with more runs is a new set",
            )


def _digests(folder: Path) -> list[str] | None:
    sums = folder / SUMS
    if not sums.is_file():
        return None
    return sorted(parse_sha256sums(sums.read_text(encoding="utf-8")).values())


def withdraw(study: StudyFolder, set_id: str, *, on: dt.date, reason: str) -> Decisions:
    """Withdraw a set for its contributor: its rows leave the next release, a tombstone stays.

    The set's folder is left alone: whether the files may be kept is between curator and
    contributor.

    Args:
        study: The study.
        set_id: The set.
        on: Day of the withdrawal.
        reason: Why, as published.

    Raises:
        StudyError: The set is unknown or already withdrawn.
        StudyLockedError: Another process is writing to the study.
    """
    with locked(study, "withdraw"):
        after = read_decisions(study.decisions).with_withdrawal(set_id, on, reason)
        write_decisions(study.decisions, after)
    return after
