"""Writes a release of a study: everything beside, validated, then renamed into place."""

from __future__ import annotations

import shutil
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import rigledger
from rigledger.contract.descriptor import table_schema
from rigledger.contract.load import load_contract, schema_folder
from rigledger.files import (
    files_below,
    folder_beside,
    place_below,
    sha256_of,
    sha256sums,
    sweep,
)
from rigledger.release.changes_text import changes_text
from rigledger.release.claims_text import claims_within, released_claims
from rigledger.release.describe import describe, json_text
from rigledger.release.design_text import design_toml
from rigledger.release.differences import Previous, data_reasons, find_changes
from rigledger.release.documents import documents
from rigledger.release.errors import ReleaseError
from rigledger.release.findings import fill_findings
from rigledger.release.folder import (
    CHANGES_TEXT,
    CLAIMS,
    DESCRIPTOR,
    NOT_SUMMED,
    RESULTS,
    STUDY,
    SUITE,
    SUMS,
)
from rigledger.release.judges import JudgesHere
from rigledger.release.kept import KeptRelease, put_back
from rigledger.release.meta import ReleaseMeta, made_with
from rigledger.release.published import derived_tables, own_tables, source_tables
from rigledger.release.quality import assess
from rigledger.release.reach import restrict
from rigledger.release.register import Entry, RegisteredSet
from rigledger.release.sampled import compiled_problems
from rigledger.release.turned import refuse_turned
from rigledger.release.validate import MadePackage, refuse_invalid, refuse_problems
from rigledger.release.version import agreed_version, schema_reasons, step_of
from rigledger.release.view import ReleaseView
from rigledger.remembered import Remembered
from rigledger.signing import sign_sums
from rigledger.tables.build import DERIVED_TABLES, build_tables
from rigledger.tabular import write_both

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from datetime import date

    import duckdb

    from rigledger.contract.model import Contract
    from rigledger.release.findings import SetFinding
    from rigledger.release.judges import Judges
    from rigledger.release.published import Published
    from rigledger.release.version import Reason
    from rigledger.signing import PrivateKey
    from rigledger.study.model import Design


@dataclass(frozen=True, slots=True)
class ReleaseInputs:
    """What a release is made from beside its source tables.

    Attributes:
        released_on: Day of the release, an input: nothing here reads the clock.
        version: Version to publish; None for the one that follows from the change.
        previous: The release before; None for a first one.
        identifier: A reserved persistent identifier, such as ``10.1234/abc``.
        deposited_at: Where it will be deposited, for the register.
        findings: What the rules said about the sets; taken once the tables are built.
        captures: Folder that holds the captures which are here; None for none.
        claims: claims.toml of the study; None for none.
        embargo_until: Day before which an archive must not open the deposit; None for no such day.
        key: Private key that signs it; None leaves it unsigned.
        remembered: What other programs found in the same tables and files before.
        statistics: What the statistics came to for the same runs; None computes everything.
        judges: Who asks these programs.
    """

    released_on: date
    version: str | None = None
    previous: Previous | None = None
    identifier: str | None = None
    deposited_at: str | None = None
    findings: Iterable[SetFinding] = ()
    captures: Path | None = None
    claims: Path | None = None
    embargo_until: date | None = None
    key: PrivateKey | None = None
    remembered: Remembered = field(default_factory=Remembered)
    statistics: Remembered | None = None
    judges: Judges = field(default_factory=JudgesHere)


@dataclass(frozen=True, slots=True)
class ReleaseResult:
    """A release that was written.

    Attributes:
        folder: Its folder.
        version: Its version.
        fingerprint: SHA-256 of its SHA256SUMS.
        entry: Its row for the register.
    """

    folder: Path
    version: str
    fingerprint: str
    entry: Entry


def write_release(
    con: duckdb.DuckDBPyConnection,
    design: Design,
    contract: Contract,
    inputs: ReleaseInputs,
    out: Path,
) -> ReleaseResult:
    """Write a release from source tables; nothing is left behind where it fails.

    Args:
        con: Connection with all source tables of the contract; they are restricted in place to
            what may be published, and derived tables are added.
        design: The study's design.
        contract: The contract.
        inputs: Everything else it is made from.
        out: Folder of the releases; the release becomes ``<out>/<study>-<version>``.

    Returns:
        Where it is, its version and fingerprint.

    Raises:
        ReleaseError: It would not be valid, understates the change, fails an expectation that
            gates, or its folder exists already and holds something else.
        MissingExtraError: A package of the curator's install is missing.
    """
    _refuse_past_embargo(inputs)
    view = _view(con, design, contract, inputs)
    with _in_place(out / view.name) as folder:
        write_files(folder, view, inputs)
        fingerprint = _signed(folder, inputs)
    return ReleaseResult(
        out / view.name, view.meta.version, fingerprint, _entry(view, inputs, fingerprint)
    )


def write_kept_release(
    kept: KeptRelease, inputs: ReleaseInputs, captures: Path, out: Path
) -> ReleaseResult:
    """Write a release again that is kept for the same inputs.

    Args:
        kept: The release as it was kept.
        inputs: What it is made from.
        captures: Folder that holds the captures which are here.
        out: Folder of the releases.

    Returns:
        As of `write_release`.

    Raises:
        AlteredError: What is kept is no longer what was written; nothing is written then.
        ReleaseError: Its folder exists already and holds something else.
    """
    _refuse_past_embargo(inputs)
    with _in_place(out / kept.name) as folder:
        put_back(kept, folder, captures)
        fingerprint = _signed(folder, inputs)
    return ReleaseResult(
        out / kept.name, kept.version, fingerprint,
        _registered(kept.version, kept.sets, inputs, fingerprint),
    )  # fmt: skip


def _signed(folder: Path, inputs: ReleaseInputs) -> str:
    """Sign a release in the making where a key is given, and give its fingerprint."""
    if inputs.key is not None:
        sign_sums(folder, inputs.key)
    return sha256_of(folder / SUMS)


@contextmanager
def _in_place(target: Path) -> Iterator[Path]:
    """Give a folder that becomes the release's when all is written.

    Raises:
        ReleaseError: The release's folder exists already and holds something else.
    """
    sweep(target.parent, target.name)
    try:
        # The same release, whole, is what a stopped writer leaves that came not to register it.
        with folder_beside(target, or_same=True) as folder:
            yield folder
    except FileExistsError as error:
        raise ReleaseError(
            "the folder of this version exists already, with other content", file=target.name,
            next_step="a published version never changes: register it, remove it, or make the next",
        ) from error  # fmt: skip


def _refuse_past_embargo(inputs: ReleaseInputs) -> None:
    if inputs.embargo_until is not None and inputs.embargo_until <= inputs.released_on:
        raise ReleaseError(
            "the embargo ends before the release begins", column="embargo_until",
            value=inputs.embargo_until.isoformat(),
            next_step="give a day after the release, or leave the embargo out",
        )  # fmt: skip


def _view(
    con: duckdb.DuckDBPyConnection, design: Design, contract: Contract, inputs: ReleaseInputs
) -> ReleaseView:
    reach = restrict(con, design, inputs.released_on)
    claims = claims_within(inputs.claims, con, reach.design, contract)
    build_tables(con, reach.design, contract, claims=claims, remembered=inputs.statistics)
    published = (*source_tables(contract), *derived_tables(con, contract))
    fill_findings(con, contract, inputs.findings)
    find_changes(con, contract, published, inputs.previous)
    refuse_turned(con)
    meta = _meta(con, contract, published, inputs)
    suite, results = assess(
        con, reach.design, published, inputs.previous, inputs.released_on,
        remembered=inputs.remembered, judges=inputs.judges,
    )  # fmt: skip
    meta = replace(meta, left_out=reach.left_out)
    return ReleaseView(con, reach.design, contract, meta, published, suite, results)


def _meta(
    con: duckdb.DuckDBPyConnection,
    contract: Contract,
    published: tuple[Published, ...],
    inputs: ReleaseInputs,
) -> ReleaseMeta:
    previous = inputs.previous
    reasons = reasons_of(con, contract, published, previous)
    before = previous.earlier if previous else None
    return ReleaseMeta(
        version=agreed_version(inputs.version, before.version if before else None, reasons),
        released_on=inputs.released_on,
        previous=before,
        step=step_of(reasons) if previous else "first",
        reasons=tuple(f"{reason.level}: {reason.sentence}" for reason in reasons),
        identifier=inputs.identifier,
        embargo_until=inputs.embargo_until,
        made_with=made_with(contract),
    )


def reasons_of(
    con: duckdb.DuckDBPyConnection,
    contract: Contract,
    published: tuple[Published, ...],
    previous: Previous | None,
) -> list[Reason]:
    """Give the reasons for the version's step; none for a first release."""
    if previous is None:
        return []
    tables = (*published, *own_tables(contract))
    schemas: Mapping[str, Mapping[str, Any]] = {
        held.table.name: table_schema(held.table) for held in tables
    }
    return schema_reasons(previous.schemas(), schemas) + data_reasons(con, published)


def write_files(folder: Path, view: ReleaseView, inputs: ReleaseInputs) -> None:
    """Write all files of a release in the order of hashes, and refuse one that is not valid.

    Raises:
        ReleaseError: The package is not valid.
    """
    in_order = write_tables(folder, view)
    _copy_schema(folder)
    _copy_captures(folder, view, inputs.captures)
    for path, text in stated_files(view, inputs.claims).items():
        put(folder, path, text)
    descriptor = describe(folder, view)
    put(folder, DESCRIPTOR, json_text(descriptor))
    for path, text in documents(view, descriptor, sha256_of(folder / DESCRIPTOR)).items():
        put(folder, path, text)
    put(folder, SUMS, sha256sums(folder, NOT_SUMMED, _stated_hashes(descriptor)))
    with TemporaryDirectory(prefix="rigledger-") as scratch:
        refuse_problems(compiled_problems(folder, view, Path(scratch), in_order))
        in_part = view.results.get("read_in_part", {})
        package = MadePackage(folder, descriptor, Path(scratch), in_part)
        refuse_invalid(package, inputs.remembered, inputs.judges)


def _stated_hashes(descriptor: Mapping[str, Any]) -> dict[str, str]:
    return {held["path"]: held["hash"].removeprefix("sha256:") for held in descriptor["resources"]}


def put(folder: Path, path: str, text: str) -> None:
    """Write a text file of a release in the making."""
    place = folder / path
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(text.encode("utf-8"))


def write_tables(folder: Path, view: ReleaseView) -> frozenset[str]:
    """Write every table as CSV, and the source and derived ones as Parquet too.

    Returns:
        Names of tables whose rows were seen to stand in published order.
    """
    own = own_tables(view.contract)
    for held in (*view.published, *own):
        (folder / held.csv).parent.mkdir(parents=True, exist_ok=True)
    both = [(held.table, folder / held.csv, folder / held.parquet) for held in view.published]
    files = [*both, *((held.table, folder / held.csv, None) for held in own)]
    return write_both(view.con, files, DERIVED_TABLES)


def stated_files(view: ReleaseView, claims: Path | None) -> dict[str, str]:
    """Give the text files that datapackage.json lists: design, claims, quality, changes."""
    files = {
        STUDY: design_toml(view.design),
        SUITE: json_text(view.suite),
        RESULTS: json_text(view.results),
        CHANGES_TEXT: changes_text(view),
    }
    if claims is not None and claims.is_file():
        files[CLAIMS] = released_claims(claims, view.con)
    return files


def _copy_schema(folder: Path) -> None:
    place_below(schema_files(), folder, shutil.copyfile)


def schema_files() -> dict[str, Path]:
    """Give the contract's files by path in a release; the standard's own profiles stay out."""
    source = schema_folder()
    names = (name for name in files_below(source) if not name.startswith("profiles/"))
    return {f"schema/{name}": source / name for name in names}


def _copy_captures(folder: Path, view: ReleaseView, captures: Path | None) -> None:
    rows = view.rows("SELECT capture FROM captures WHERE state = 'here' ORDER BY capture")
    if not rows:
        return
    if captures is None:
        raise ReleaseError("the tables name captures that are here, and no folder holds them")
    (folder / "captures").mkdir()
    for row in rows:
        name = f"{row['capture']}.parquet"
        shutil.copyfile(captures / name, folder / "captures" / name)


def _entry(view: ReleaseView, inputs: ReleaseInputs, fingerprint: str) -> Entry:
    rows = view.rows("SELECT set_id, sha256 FROM sets ORDER BY set_id")
    sets = tuple(RegisteredSet(str(row["set_id"]), str(row["sha256"])) for row in rows)
    return _registered(view.meta.version, sets, inputs, fingerprint)


def _registered(
    version: str, sets: tuple[RegisteredSet, ...], inputs: ReleaseInputs, fingerprint: str
) -> Entry:
    previous = inputs.previous
    return Entry(
        version=version,
        released_on=inputs.released_on,
        fingerprint=fingerprint,
        previous_fingerprint=previous.earlier.fingerprint if previous else None,
        rigledger=rigledger.__version__,
        deposited_at=inputs.deposited_at,
        signed_with=inputs.key.public.fingerprint if inputs.key else None,
        sets=sets,
        contract=load_contract().version,
    )
