"""The claims.toml of a release: the study's claims but for those that name what is not in it."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

import tomli_w

from rigledger.claims.read import claims_of
from rigledger.release.errors import ReleaseError
from rigledger.study.section import Section

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping
    from pathlib import Path

    import duckdb

    from rigledger.claims.model import Claim
    from rigledger.contract.model import Contract
    from rigledger.study.model import Design

_SCOPES = {
    "rig": "rigs", "against": "rigs", "platform": "platforms", "card": "cards",
    "workload": "workloads", "contributor": "contributors",
}  # fmt: skip


def claims_within(
    path: Path | None, con: duckdb.DuckDBPyConnection, design: Design, contract: Contract
) -> tuple[Claim, ...]:
    """Read the claims that a release states, as it states them.

    Args:
        path: claims.toml of the study or of the release; None or a missing one states none.
        con: Connection with the source tables of the release.
        design: The design as published.
        contract: The contract.

    Raises:
        ReleaseError, StudyError: claims.toml can't be read, or a key or value in it is wrong.
    """
    if path is None or not path.is_file():
        return ()
    held = tomllib.loads(released_claims(path, con))
    return claims_of(Section(path.name, "", held), design, contract)


def released_claims(path: Path, con: duckdb.DuckDBPyConnection) -> str:
    """Write the claims that speak only of what the release holds.

    A claim whose scope names a rig, platform, card, workload or contributor that the release
    doesn't hold is left out whole, with its sentence.

    Args:
        path: claims.toml.
        con: Connection with the source tables of the release.

    Raises:
        ReleaseError: claims.toml can't be read.
    """
    try:
        held = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise ReleaseError(f"can't be read: {error}", file=path.name) from error
    known = {
        name: _names_in(con, table, table.removesuffix("s")) for name, table in _SCOPES.items()
    }
    known["order"] = known["rig"] | known["workload"]
    return tomli_w.dumps({key: _kept(value, known) for key, value in held.items()})


def _names_in(con: duckdb.DuckDBPyConnection, table: str, column: str) -> set[str]:
    rows = con.execute(f"SELECT {column} FROM {table}").fetchall()
    if table == "workloads":
        rows += con.execute("SELECT title FROM workloads").fetchall()
    return {str(name) for (name,) in rows}


def _kept(value: Any, known: Mapping[str, Collection[str]]) -> Any:  # noqa: ANN401 - TOML
    if not isinstance(value, list):
        return value
    return [item for item in value if not isinstance(item, dict) or _is_held(item, known)]


def _is_held(claim: Mapping[str, Any], known: Mapping[str, Collection[str]]) -> bool:
    return all(name in known[scope] for scope, name in _names(claim, known))


def _names(value: Mapping[str, Any], scopes: Collection[str]) -> Iterable[tuple[str, str]]:
    for key, held in value.items():
        scope = key if key in scopes else key.removesuffix("s")
        if isinstance(held, dict):
            yield from _names(held, scopes)
        elif scope in scopes:
            yield from ((scope, str(name)) for name in (held if isinstance(held, list) else [held]))
