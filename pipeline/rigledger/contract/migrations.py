"""The contract's versions, and what is carried over where older data are read.

Migrations are data (schema/migrations.toml): named, ordered, applied in memory. Nothing here writes
into a study or a release.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, cast, get_args

from rigledger.contract.cells import SQL_TYPES, typed_columns
from rigledger.contract.load import schema_folder
from rigledger.contract.model import Group
from rigledger.contract.sql_text import identifier
from rigledger.errors import ContractError, RigledgerError
from rigledger.files import hashes_below

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from rigledger.contract.model import Contract, Table

_FILE = "migrations.toml"
_VERSION = re.compile(r"(0|[1-9]\d*)\.(0|[1-9]\d*)\.(0|[1-9]\d*)", re.ASCII)
_PLACE = re.compile(r"(?P<group>[a-z_]+)/(?P<table>[a-z0-9_]+)(?:\.(?P<column>[a-z0-9_]+))?")


class NewerContractError(RigledgerError, ValueError):
    """Data were written by a newer version of the contract than this program knows."""

    code = "newer_contract"


class UnknownContractError(RigledgerError, ValueError):
    """Data name a version of the contract that was never published."""

    code = "unknown_contract"


@dataclass(frozen=True, slots=True)
class Place:
    """A table of the contract, or one of its columns.

    Attributes:
        group: Group of the table.
        table: Its name.
        column: The column; None for the whole table.
    """

    group: Group
    table: str
    column: str | None = None

    def __str__(self) -> str:
        """Give it as schema/migrations.toml writes it."""
        end = f".{self.column}" if self.column else ""
        return f"{self.group}/{self.table}{end}"


@dataclass(frozen=True, slots=True)
class Migration:
    """One step from a version of the contract to the next.

    Attributes:
        name: Its name.
        before: Version from which it leads.
        after: Version to which it leads, the next one.
        changes: What changes, in a sentence.
        because: Why, in a sentence.
        carried_over: What older data get in its place, in a sentence.
        columns: New columns, each with the SQL expression over an older row that gives its value;
            None leaves it blank.
        new_tables: Tables that no older data hold.
        gone_columns: Columns that the next version no longer has.
        tightened: Columns that allow less than before.
    """

    name: str
    before: str
    after: str
    changes: str
    because: str
    carried_over: str
    columns: tuple[tuple[Place, str | None], ...] = ()
    new_tables: tuple[Place, ...] = ()
    gone_columns: tuple[Place, ...] = ()
    tightened: tuple[Place, ...] = ()


@dataclass(frozen=True, slots=True)
class ContractVersion:
    """A version of the contract.

    Attributes:
        version: Three numbers.
        schema_sha256: Hash of its files, as `schema_hash` gives it; None for the newest.
        nothing_to_carry_over: Why there is no migration to it; None where there is one, and for
            the oldest.
    """

    version: str
    schema_sha256: str | None = None
    nothing_to_carry_over: str | None = None


@dataclass(frozen=True, slots=True)
class History:
    """All versions of the contract, oldest first, and the migrations between them."""

    versions: tuple[ContractVersion, ...]
    migrations: tuple[Migration, ...]

    def version(self, stated: str) -> ContractVersion:
        """Give a version that data state.

        Raises:
            NewerContractError: It is newer than the newest one here.
            UnknownContractError: It is none, or was never published.
        """
        for held in self.versions:
            if held.version == stated:
                return held
        self.refuse_newer(stated)
        raise UnknownContractError(
            "no such version of the contract was published", column="contract", value=stated,
            next_step=f"known versions: {', '.join(held.version for held in self.versions)}",
        )  # fmt: skip

    def refuse_newer(self, stated: str, *, file: str | None = None) -> None:
        """Refuse data of a version that is newer than the newest one here.

        Args:
            stated: The version that the data state.
            file: Where it is stated.

        Raises:
            NewerContractError: It is newer.
            UnknownContractError: It is no version.
        """
        newest = self.versions[-1].version
        if _numbers(stated, file) > _numbers(newest):
            raise NewerContractError(
                f"was written by version {stated} of the contract; this program knows {newest}",
                file=file, column="contract", value=stated,
                next_step="install a newer version of rigledger",
            )  # fmt: skip

    def since(self, stated: str) -> tuple[Migration, ...]:
        """Give the migrations that lead from a version to the newest, in their order.

        Raises:
            NewerContractError: The version is newer than the newest one here.
            UnknownContractError: It is none, or was never published.
        """
        start = self.versions.index(self.version(stated))
        return tuple(
            step
            for held in self.versions[start:-1]
            for step in self.migrations
            if step.before == held.version
        )


def _numbers(version: str, file: str | None = None) -> tuple[int, ...]:
    match = _VERSION.fullmatch(version)
    if match is None:
        raise UnknownContractError(
            "not a version of the contract", file=file, column="contract", value=version,
            next_step="a version is three numbers, such as 2.0.0",
        )  # fmt: skip
    return tuple(int(part) for part in match.groups())


def load_history(folder: Path | None = None) -> History:
    """Read the contract's versions and migrations.

    Args:
        folder: A schema folder; None for the one that belongs to this version.

    Raises:
        ContractError: The file can't be read, or its versions and migrations form no chain.
    """
    return _load((folder or schema_folder()).resolve())


@lru_cache(maxsize=8)
def _load(folder: Path) -> History:
    try:
        held = tomllib.loads((folder / _FILE).read_text(encoding="utf-8"))
        versions = tuple(ContractVersion(**item) for item in held["versions"])
        migrations = tuple(_migration(item) for item in held["migrations"])
    except (OSError, tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise ContractError(f"can't be read: {error}", file=_FILE) from error
    history = History(versions, migrations)
    for problem in _problems(history):
        raise ContractError(problem, file=_FILE)
    return history


def _migration(item: dict[str, Any]) -> Migration:
    places: dict[str, Any] = {key: tuple(map(_place, item.pop(key, ()))) for key in _PLACES}
    columns = tuple(
        (_place(column["column"]), column.get("value")) for column in item.pop("columns", ())
    )
    return Migration(
        before=item.pop("from"), after=item.pop("to"), columns=columns, **places, **item
    )


_PLACES = ("new_tables", "gone_columns", "tightened")


def _place(text: str) -> Place:
    match = _PLACE.fullmatch(text)
    if match is None or match["group"] not in get_args(Group):
        raise ContractError(
            "names no place of the contract", file=_FILE, value=text,
            next_step="write group/table or group/table.column",
        )  # fmt: skip
    return Place(cast("Group", match["group"]), match["table"], match["column"])


def _problems(history: History) -> Iterator[str]:
    """Find what keeps versions and migrations from being one chain."""
    names = [held.version for held in history.versions]
    if not names or sorted(names, key=_numbers) != names or len(set(names)) < len(names):
        yield "the versions are listed once each, oldest first"
        return
    steps = dict(pairwise(names))
    for held in history.versions[:-1]:
        if held.schema_sha256 is None:
            yield f"version {held.version} lacks the hash of its files"
    for migration in history.migrations:
        if steps.get(migration.before) != migration.after:
            yield f"migration {migration.name} leads from no version to the next"
    if len({held.name for held in history.migrations}) < len(history.migrations):
        yield "two migrations have one name"
    reached = {held.after for held in history.migrations}
    for held in history.versions[1:]:
        if (held.version in reached) == (held.nothing_to_carry_over is not None):
            yield f"version {held.version} has a migration, or says why there is none to it"


def schema_hash(folder: Path) -> str:
    """Hash the contract's files as a release holds them; the standard's own profiles stay out.

    Args:
        folder: A schema folder.

    Returns:
        SHA-256 of the lines ``<sha256>  <path>`` of its files, in the order of their paths.
    """
    lines = (
        f"{digest}  {name}\n"
        for name, digest in hashes_below(folder).items()
        if not name.startswith("profiles/")
    )
    return hashlib.sha256("".join(lines).encode("utf-8")).hexdigest()


def carry_over_sql(
    migrations: Iterable[Migration], contract: Contract, held: Iterable[str]
) -> list[str]:
    """Give the statements that make tables of an older version those of this one.

    Args:
        migrations: The migrations since that version.
        contract: This version's contract.
        held: Names of the older data's source and derived tables, typed, in a connection.

    Returns:
        DuckDB statements, to be run in order; each replaces or adds a table in memory.
    """
    steps = tuple(migrations)
    there = set(held)
    added = {place.table for step in steps for place in step.new_tables if place.group == "source"}
    touched = {
        table
        for step in steps
        for table in contract.group("source") + contract.group("derived")
        if table.name in there and _changed(step, table)
    }
    return [
        *(_empty(contract.table("source", name)) for name in sorted(added - there)),
        *(
            _step(step, table)
            for step in steps
            for table in sorted(touched, key=lambda one: one.name)
            if _changed(step, table)
        ),
        *(_ordered(table) for table in sorted(touched, key=lambda one: one.name)),
    ]


def _changed(step: Migration, table: Table) -> bool:
    places = (*(place for place, _ in step.columns), *step.gone_columns)
    return any((place.group, place.table) == (table.group, table.name) for place in places)


def _empty(table: Table) -> str:
    return f"CREATE TABLE {identifier(table.name)} ({typed_columns(table)})"


def _step(step: Migration, table: Table) -> str:
    """Add a step's new columns to a table and take away those that are gone."""
    types = {one.name: SQL_TYPES[one.type] for one in table.fields}
    new = (
        f", CAST({value or 'NULL'} AS {types.get(str(place.column), 'VARCHAR')}) "
        f"AS {identifier(str(place.column))}"
        for place, value in step.columns
        if (place.group, place.table) == (table.group, table.name)
    )
    gone = ", ".join(
        identifier(str(place.column))
        for place in step.gone_columns
        if (place.group, place.table) == (table.group, table.name)
    )
    name = identifier(table.name)
    kept = f"* EXCLUDE ({gone})" if gone else "*"
    return f"CREATE OR REPLACE TABLE {name} AS SELECT {kept}{''.join(new)} FROM {name}"


def _ordered(table: Table) -> str:
    """Put a table's columns in the contract's order."""
    name = identifier(table.name)
    columns = ", ".join(identifier(column) for column in table.field_names)
    return f"CREATE OR REPLACE TABLE {name} AS SELECT {columns} FROM {name}"
