"""By which contract a release is read: the one it was written by, carried over to this one.

An older release holds its contract in schema/. That folder is held against the hash under which
the version was published, so that nobody gains by stating an older version; then the tables are
checked as that version describes them, and what is new since is added in memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rigledger.contract.load import read_contract
from rigledger.contract.migrations import (
    UnknownContractError,
    carry_over_sql,
    load_history,
    schema_hash,
)
from rigledger.errors import RigledgerError
from rigledger.release.outcome import Difference
from rigledger.release.published import own_tables, source_tables
from rigledger.tabular import column_names

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path
    from typing import Any

    import duckdb

    from rigledger.contract.migrations import Migration
    from rigledger.contract.model import Contract, Table

SCHEMA = "schema"


@dataclass(frozen=True, slots=True)
class Reading:
    """The contracts by which a release is read and built again.

    Attributes:
        own: The contract by which it was written.
        now: This version's contract, with the release's own definitions of the metrics.
        migrations: What is carried over from the one to the other; empty where they are the same.
        problems: What is wrong with the contract that it names or holds.
    """

    own: Contract
    now: Contract
    migrations: tuple[Migration, ...] = ()
    problems: tuple[Difference, ...] = ()

    @property
    def is_older(self) -> bool:
        """Whether the release was written by an older contract."""
        return self.own.version != self.now.version

    def derived(self) -> tuple[Table, ...]:
        """Give the derived tables that a release of its version could hold."""
        new = {(place.group, place.table) for step in self.migrations for place in step.new_tables}
        return tuple(
            table for table in self.own.group("derived") if (table.group, table.name) not in new
        )

    def sentences(self) -> tuple[str, ...]:
        """Say what was carried over, a sentence for each migration that bears on a release."""
        return tuple(
            f"{step.name}: {step.carried_over}" for step in self.migrations if _bears(step)
        )


def _bears(step: Migration) -> bool:
    places = (*(place for place, _ in step.columns), *step.new_tables, *step.gone_columns)
    return any(place.group in {"source", "derived"} for place in places)


def stated_contract(descriptor: Mapping[str, Any]) -> str | None:
    """Give the version of the contract that a datapackage.json states; None where there is none."""
    try:
        stated = descriptor["rigledger"]["made_with"]["contract"]
    except (KeyError, TypeError):
        return None
    return stated if isinstance(stated, str) else None


def refuse_newer(descriptor: Mapping[str, Any], *, file: str) -> None:
    """Refuse a release that was written by a newer contract than this program knows.

    Raises:
        NewerContractError: It was.
    """
    stated = stated_contract(descriptor)
    if stated is not None:
        try:
            load_history().refuse_newer(stated, file=file)
        except UnknownContractError:
            return


def reading_of(folder: Path, stated: str | None, contract: Contract) -> Reading:
    """Find the contract by which a release was written.

    Args:
        folder: The release.
        stated: The version of the contract that it states.
        contract: This version's contract.

    Returns:
        How to read it; with a problem where it states a version that was never published, or
        holds another schema/ than that version's.

    Raises:
        NewerContractError: The version is newer than this program knows.
    """
    if stated is None or stated == contract.version:
        return Reading(contract, contract)
    try:
        history = load_history()
        migrations, published = history.since(stated), history.version(stated)
    except UnknownContractError as error:
        return Reading(contract, contract, problems=(_problem(error.message, stated),))
    if schema_hash(folder / SCHEMA) != published.schema_sha256:
        says = "schema/ doesn't hold the contract as it was published in this version"
        return Reading(contract, contract, problems=(_problem(says, stated),))
    try:
        own = read_contract(folder / SCHEMA)
    except RigledgerError as error:
        return Reading(contract, contract, problems=(_problem(error.message, stated),))
    return Reading(own, replace(contract, metrics=own.metrics), migrations)


def _problem(says: str, stated: str) -> Difference:
    return Difference("unreadable", f"{SCHEMA}/contract.toml", says, recorded=stated)


def carry_over(con: duckdb.DuckDBPyConnection, reading: Reading) -> None:
    """Make the tables of an older release those of this version, in the connection alone.

    Args:
        con: Connection with the release's source tables, ``findings`` and ``changes``, typed.
        reading: How it is read.
    """
    if reading.migrations:
        tables = (*source_tables(reading.own), *own_tables(reading.own))
        held = [one.table.name for one in tables if column_names(con, one.table.name)]
        for statement in carry_over_sql(reading.migrations, reading.now, held):
            con.execute(statement)
