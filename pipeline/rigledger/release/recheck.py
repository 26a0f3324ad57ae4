"""Rebuilds a release from its own source tables and says what follows, and what was altered."""

from __future__ import annotations

import json
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
from jinja2 import TemplateError

from rigledger.contract import load_contract
from rigledger.database import plan_plainly
from rigledger.errors import RigledgerError
from rigledger.files import sha256_of
from rigledger.garbage import searched_later
from rigledger.release.archive import open_release
from rigledger.release.carried import Reading, carry_over, reading_of
from rigledger.release.deep import FINDINGS, sets_again
from rigledger.release.differences import Previous, open_previous
from rigledger.release.errors import RecheckError
from rigledger.release.folder import DESCRIPTOR, RESULTS, STUDY, SUITE, SUMS
from rigledger.release.integrity import descriptor_differences, read_descriptor, sums_differences
from rigledger.release.meta import ReleaseMeta, made_with, meta_of
from rigledger.release.outcome import Difference
from rigledger.release.promises import Evidence, Promise, promises, verdict_of
from rigledger.release.proven import what_is_proven
from rigledger.release.recompute import recompute
from rigledger.release.rederive import rederive
from rigledger.release.regenerate import marked, regenerate
from rigledger.release.reload import (
    byte_differences,
    copy_differences,
    reload_tables,
    tables_of,
)
from rigledger.release.view import ReleaseView
from rigledger.release.vouching import register_differences, signature_differences
from rigledger.study.design import read_design

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from rigledger.contract.model import Contract
    from rigledger.release.outcome import Verdict
    from rigledger.release.published import Published
    from rigledger.signing import PublicKey


@dataclass(frozen=True, slots=True)
class RecheckResult:
    """What rechecking a release found.

    Attributes:
        name: Study and version, as the release names itself.
        fingerprint: SHA-256 of its SHA256SUMS, to compare with the one that was published.
        verdict: ``as_published``, ``values_follow`` (derived values are the same to 1e-9, not all
            bytes are), ``made_by_another_version`` or ``altered``.
        promises: Which of the three promises hold, and why not.
        differences: Everything that is not as it should be.
        signed_with: Fingerprint of the key that signed it; None where none rightly did.
        versions: Versions that made it and that run here, where they differ: name -> (made, here).
        carried_over: What was carried over from an older contract to this one, in sentences.
        proven: What the check proves, in sentences.
        not_proven: What it can't prove, in sentences.
    """

    name: str
    fingerprint: str
    verdict: Verdict
    promises: tuple[Promise, ...]
    differences: tuple[Difference, ...]
    signed_with: str | None
    versions: dict[str, tuple[str, str]]
    carried_over: tuple[str, ...]
    proven: tuple[str, ...]
    not_proven: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Give the result as JSON values."""
        return {
            "name": self.name,
            "fingerprint": self.fingerprint,
            "verdict": self.verdict,
            "promises": [item.as_dict() for item in self.promises],
            "differences": [item.as_dict() for item in self.differences],
            "signed_with": self.signed_with,
            "versions": {name: list(pair) for name, pair in self.versions.items()},
            "carried_over": list(self.carried_over),
            "proven": list(self.proven),
            "not_proven": list(self.not_proven),
        }


def _quiet(_: str) -> None:
    """Say nothing of what is done next."""


def recheck(
    path: Path,
    *,
    fingerprint: str | None = None,
    key: PublicKey | None = None,
    register: Path | None = None,
    previous: Path | None = None,
    study: Path | None = None,
    deep: bool = False,
    threads: int | None = None,
    report: Callable[[str], None] = _quiet,
) -> RecheckResult:
    """Rebuild a release from its own source tables and compare everything it holds.

    Args:
        path: Folder, .zip or .tar of the release.
        fingerprint: Fingerprint as published elsewhere; a release with another one is altered.
        key: Public key that must have signed it; a release that it didn't sign is altered.
        register: The study's releases.toml; a release that isn't its newest one is altered.
        previous: Folder of the release before, to make the difference to it again.
        study: Folder of the study with its sets as handed in; with ``deep`` each is checked and
            read again.
        deep: Evaluate the expectations of quality/ again as well; takes about ten seconds more.
        threads: DuckDB threads; None for its own choice. The result doesn't depend on it.
        report: Told in a few words what is done next.

    Returns:
        The verdict, the promises that hold, and every difference by file, row and column.

    Raises:
        RecheckError: It is no release, or can't be opened; ``previous`` is another release; or
            ``study`` is given without ``deep``.
        NewerContractError: It was written by a newer contract than this program knows.
        ReleaseError: The register can't be read.
        StudyError: ``study`` is none.
        MissingExtraError: A package of the curator's install is missing.
    """
    if study is not None and not deep:
        raise RecheckError("a study is used by the deep check alone", next_step="add --deep")
    contract = load_contract()
    asked = _Asked(fingerprint, key, register, previous, study, deep, report)
    with searched_later(), tempfile.TemporaryDirectory(prefix="rigledger-") as name:
        scratch = Path(name)
        (scratch / "unpacked").mkdir()
        report("opening the release")
        folder = open_release(path, scratch / "unpacked")
        before = open_previous(previous) if previous else None
        with _connection(folder, threads) as con:
            return _Recheck(folder, scratch, contract, con, before, asked).run()


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the reader gave to check against."""

    fingerprint: str | None
    key: PublicKey | None
    register: Path | None
    previous: Path | None
    study: Path | None
    deep: bool
    report: Callable[[str], None]

    @property
    def told(self) -> frozenset[str]:
        names = ("fingerprint", "key", "register", "previous", "study", "deep")
        return frozenset(name for name in names if getattr(self, name))


_OFF = ("autoinstall_known_extensions", "autoload_known_extensions", "enable_progress_bar")


# For tables up to this many bytes, looking for the best plan takes longer than any plan.
_SMALL = 1_000_000


@contextmanager
def _connection(folder: Path, threads: int | None) -> Iterator[duckdb.DuckDBPyConnection]:
    con = duckdb.connect(config={"allow_community_extensions": False})
    try:
        if sum(path.stat().st_size for path in folder.glob("data/*.csv")) <= _SMALL:
            plan_plainly(con)
        for setting in _OFF:
            con.execute(f"SET {setting} = false")
        if threads is not None:
            con.execute(f"SET threads = {int(threads)}")
        yield con
    finally:
        con.close()


@dataclass
class _Recheck:
    """One check, step by step; each step adds to the evidence."""

    folder: Path
    scratch: Path
    contract: Contract
    con: duckdb.DuckDBPyConnection
    previous: Previous | None
    asked: _Asked
    evidence: Evidence = field(default_factory=Evidence)

    def run(self) -> RecheckResult:
        found = sha256_of(self.folder / SUMS) if (self.folder / SUMS).is_file() else ""
        self.evidence.told = self.asked.told
        self._files(found)
        descriptor = self._descriptor()
        versions: dict[str, tuple[str, str]] = {}
        carried_over: tuple[str, ...] = ()
        name = self.folder.name
        if descriptor is not None:
            meta = meta_of(descriptor)
            _refuse_other_previous(self.previous, meta)
            self.evidence.has_previous = meta.previous is not None
            name = f"{descriptor['name']}-{meta.version}"
            versions = other_versions(meta, self.contract)
            reading = reading_of(self.folder, meta.made_with.get("contract"), self.contract)
            carried_over = reading.sentences()
            self.evidence.older_contract = reading.own.version if reading.is_older else None
            self.evidence.integrity += reading.problems
            if not reading.problems:
                self._tables(descriptor, meta, reading, other_version=bool(versions))
        return self._result(name, found, versions, carried_over)

    def _files(self, found: str) -> None:
        """Hold the files against hashes, fingerprint, signature and register."""
        evidence, asked = self.evidence, self.asked
        asked.report("hashing its files")
        evidence.integrity += sums_differences(self.folder)
        if asked.fingerprint is not None and asked.fingerprint != found:
            says = "the release has another fingerprint than the one that was published"
            evidence.integrity.append(
                Difference("fingerprint", SUMS, says, recorded=asked.fingerprint, found=found)
            )
        wrong, evidence.signed_with = signature_differences(self.folder, asked.key)
        evidence.integrity += wrong
        if asked.register is not None:
            evidence.integrity += register_differences(found, asked.register)

    def _descriptor(self) -> dict[str, Any] | None:
        try:
            descriptor = read_descriptor(self.folder)
            meta_of(descriptor)
        except (RecheckError, KeyError, ValueError, TypeError, AttributeError) as error:
            says = error.message if isinstance(error, RecheckError) else f"lacks {error}"
            self.evidence.integrity.append(Difference("unreadable", DESCRIPTOR, says))
            return None
        self.evidence.integrity += descriptor_differences(self.folder, descriptor)
        return descriptor

    def _tables(
        self,
        descriptor: dict[str, Any],
        meta: ReleaseMeta,
        reading: Reading,
        *,
        other_version: bool,
    ) -> None:
        evidence, report = self.evidence, self.asked.report
        report("reading its tables")
        published = tables_of(self.folder, descriptor, reading.own)
        read = reload_tables(self.con, self.folder, reading.own, published)
        evidence.source += [one for one in read if not one.file.startswith("derived/")]
        evidence.derived += [one for one in read if one.file.startswith("derived/")]
        if any(one.kind == "unreadable" for one in read):
            return
        source = tuple(held for held in published if held.folder == "data")
        evidence.source += byte_differences(self.con, self.folder, self.scratch, source)
        report("computing values from captures again")
        evidence.source += recompute(self.con, self.folder, reading.now)
        evidence.copies += copy_differences(self.con, self.folder, published)
        carry_over(self.con, reading)
        self._derived(descriptor, meta, published, reading, other_version=other_version)
        if self.asked.study is not None:
            found = sets_again(
                self.con, self.folder, self.asked.study, scratch=self.scratch,
                contract=reading.now, released_on=meta.released_on, report=report,
                published=source,
            )  # fmt: skip
            # Rules come with the program: an older one may have found other things in a set.
            evidence.sets += [
                replace(one, other_version=reading.is_older and one.file == FINDINGS)
                for one in found
            ]

    def _derived(
        self,
        descriptor: dict[str, Any],
        meta: ReleaseMeta,
        published: tuple[Published, ...],
        reading: Reading,
        *,
        other_version: bool,
    ) -> None:
        evidence, report = self.evidence, self.asked.report
        now = reading.now
        derived = tuple(held for held in published if held.folder == "derived")
        try:
            design = read_design(self.folder / STUDY, now)
            suite, results = (self._json(name) for name in (SUITE, RESULTS))
            report("building the derived tables again")
            rebuilt = rederive(
                self.con, design, now, self.folder, scratch=self.scratch,
                derived=derived, known=reading.derived(), other_version=other_version,
            )  # fmt: skip
            evidence.rebuilt = rebuilt
            view = ReleaseView(self.con, design, now, meta, published, suite, results)
            report("making its texts and its page again")
            made = regenerate(
                self.folder, view, descriptor, self.previous,
                deep=self.asked.deep, own_schema=not reading.is_older,
            )  # fmt: skip
            evidence.generated += marked(made, other_version=other_version)
        except (
            RigledgerError,
            KeyError,
            TypeError,
            ValueError,
            duckdb.Error,
            TemplateError,
        ) as error:
            says = f"the tables can't be built again: {_first_line(error)}"
            file = error.file if isinstance(error, RigledgerError) else None
            evidence.derived.append(
                Difference("unreadable", file or "derived", says, other_version=reading.is_older)
            )

    def _json(self, name: str) -> dict[str, Any]:
        held: dict[str, Any] = json.loads((self.folder / name).read_text(encoding="utf-8"))
        return held

    def _result(
        self,
        name: str,
        fingerprint: str,
        versions: dict[str, tuple[str, str]],
        carried_over: tuple[str, ...],
    ) -> RecheckResult:
        evidence = self.evidence
        proven, not_proven = what_is_proven(evidence)
        return RecheckResult(
            name=name,
            fingerprint=fingerprint,
            verdict=verdict_of(evidence),
            promises=promises(evidence),
            differences=tuple(evidence.differences()),
            signed_with=evidence.signed_with,
            versions=versions,
            carried_over=carried_over,
            proven=proven,
            not_proven=not_proven,
        )


def other_versions(meta: ReleaseMeta, contract: Contract) -> dict[str, tuple[str, str]]:
    """Name the versions in which the maker of a release and this installation differ."""
    here = made_with(contract)
    names = sorted({*here, *meta.made_with})
    pairs = {
        name: (str(meta.made_with.get(name, "absent")), here.get(name, "absent")) for name in names
    }
    return {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}


def _refuse_other_previous(given: Previous | None, meta: ReleaseMeta) -> None:
    """Refuse to compare with a release that isn't the one before."""
    if given is None or (meta.previous and given.earlier.fingerprint == meta.previous.fingerprint):
        return
    before = meta.previous
    wanted = f"{before.version}, fingerprint {before.fingerprint}" if before else "none"
    raise RecheckError(
        f"is not the release before this one (which is {wanted})",
        file=given.folder.name,
        value=given.earlier.fingerprint,
        next_step="name that release, or leave it out",
    )


def _first_line(error: Exception) -> str:
    return str(error).splitlines()[0] if str(error) else type(error).__name__
