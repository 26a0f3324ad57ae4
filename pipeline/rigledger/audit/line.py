"""The dated line of each rig's stacks, and of each title's builds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.audit.errors import StackOrderError
from rigledger.audit.rows import rows
from rigledger.study.stacks import version_fields

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    import duckdb

    from rigledger.contract import Contract


@dataclass(frozen=True, slots=True)
class StackOnRig:
    """A stack in the line of one rig.

    Attributes:
        since: Day of its first session on this rig.
        until: Day of its last one.
        last_boot: Boot counter of that one.
        sessions: How many there were.
        sets: Sets whose sessions they are.
        versions: What it is: values by column of ``stacks``; None where blank.
    """

    rig: str
    stack: str
    since: dt.date
    until: dt.date
    last_boot: int
    sessions: int
    sets: tuple[str, ...]
    versions: Mapping[str, str | None]


@dataclass(frozen=True, slots=True)
class BuildOnRig:
    """A build of a title as run on one rig, since when and until when."""

    rig: str
    workload: str
    title_build: str
    since: dt.date
    until: dt.date


@dataclass(frozen=True, slots=True)
class RigLine:
    """A rig's stacks in the order of their first boot, and the builds of its titles."""

    rig: str
    stacks: tuple[StackOnRig, ...]
    builds: tuple[BuildOnRig, ...]

    @property
    def current(self) -> StackOnRig:
        """The stack of the latest boot."""
        return max(self.stacks, key=lambda held: held.last_boot)

    def current_build(self, workload: str) -> BuildOnRig | None:
        """The build of a title that was run last; None where it was never run here."""
        own = [held for held in self.builds if held.workload == workload]
        return own[-1] if own else None


def rig_lines(con: duckdb.DuckDBPyConnection, contract: Contract) -> tuple[RigLine, ...]:
    """Give the line of each rig with sessions in force.

    Args:
        con: A connection with the source tables.
        contract: The contract; its key of ``stacks`` says what makes a stack.

    Raises:
        StackOrderError: A boot on a new stack is dated before the boot that came before it.
    """
    _refuse_disorder(con)
    fields = version_fields(contract)
    held = {row["stack"]: row for row in _stack_rows(con)}
    stacks = [_stack(row, held[row["stack"]], fields) for row in rows(con, "rig_stacks")]
    builds = [
        BuildOnRig(row["rig"], row["workload"], row["title_build"], row["since"], row["until"])
        for row in rows(con, "title_builds")
    ]
    return tuple(
        RigLine(
            rig,
            tuple(one for one in stacks if one.rig == rig),
            tuple(one for one in builds if one.rig == rig),
        )
        for rig in dict.fromkeys(one.rig for one in stacks)
    )


def _stack_rows(con: duckdb.DuckDBPyConnection) -> list[dict[str, str | None]]:
    cursor = con.execute("select * from stacks order by stack")
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _stack(
    row: Mapping[str, object], held: Mapping[str, str | None], fields: tuple[str, ...]
) -> StackOnRig:
    versions = {name: None if held[name] is None else str(held[name]) for name in fields}
    return StackOnRig(
        rig=row["rig"],  # type: ignore[arg-type]
        stack=row["stack"],  # type: ignore[arg-type]
        since=row["since"],  # type: ignore[arg-type]
        until=row["until"],  # type: ignore[arg-type]
        last_boot=row["last_boot"],  # type: ignore[arg-type]
        sessions=row["sessions"],  # type: ignore[arg-type]
        sets=tuple(row["sets"]),  # type: ignore[arg-type]
        versions=versions,
    )


def _refuse_disorder(con: duckdb.DuckDBPyConnection) -> None:
    for row in rows(con, "boots"):
        raise StackOrderError(
            f"session {row['session']} is on another stack and dated {row['started_on']}, before "
            f"session {row['earlier_session']} of {row['earlier_day']} that it followed",
            column="started_on",
            value=str(row["started_on"]),
            next_step="correct the day or the boot of one of the two in corrections.toml",
        )
