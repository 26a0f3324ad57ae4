"""The name of a stack, and a session's change of stack by a correction."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any

from rigledger.study.rows import insert_rows

if TYPE_CHECKING:
    from collections.abc import Mapping

    import duckdb

    from rigledger.contract import Contract


def version_fields(contract: Contract) -> tuple[str, ...]:
    """Name the columns that make a stack what it is: its unique key, in the contract's order."""
    table = contract.table("source", "stacks")
    key = table.unique_keys[0]
    return tuple(name for name in table.field_names if name in key and name != "contributor")


def stack_id(contributor: str, versions: Mapping[str, Any], contract: Contract) -> str:
    """Name a stack after its versions: the same versions are the same stack whatever the date.

    Args:
        contributor: Whose stack it is.
        versions: Values of the version columns; None for a blank one.
        contract: The contract.

    Returns:
        ``contributor.stack-<first 12 hex of sha256 over the versions joined by the unit
        separator>``.
    """
    values = [versions[name] for name in version_fields(contract)]
    text = "\x1f".join("" if value is None else str(value) for value in values)
    digest = hashlib.sha256(text.encode("utf-8")).hexdigest()
    return f"{contributor}.stack-{digest[:12]}"


def restack(
    con: duckdb.DuckDBPyConnection,
    session: str,
    field: str,
    value: Any,  # noqa: ANN401 - the field's type
    contract: Contract,
) -> None:
    """Give one session a stack that differs in one field; drop stacks that no session is on.

    A corrected date belongs to the stack and so to all its sessions.
    """
    query = "select * from stacks where stack = (select stack from sessions where session = ?)"
    held = con.execute(query, [session])
    names = [column[0] for column in held.description or ()]
    row = dict(zip(names, held.fetchone() or (), strict=True)) | {field: value}
    if field not in version_fields(contract):
        con.execute(
            f"create or replace table stacks as select * replace ("
            f"case when stack = ? then ? else {field} end as {field}) from stacks",
            [row["stack"], value],
        )
        return
    row["stack"] = stack_id(row["contributor"], row, contract)
    if not con.execute("select 1 from stacks where stack = ?", [row["stack"]]).fetchone():
        insert_rows(con, "stacks", [row])
    con.execute(
        "create or replace table sessions as select * replace ("
        "case when session = ? then ? else stack end as stack) from sessions",
        [session, row["stack"]],
    )
    con.execute(
        "create or replace table stacks as select * from stacks"
        " where stack in (select stack from sessions)"
    )
