"""The claims.toml of a release: the study's claims but for those that name what is not in it."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

import tomli_w

from rigledger.release.errors import ReleaseError

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping
    from pathlib import Path

    from rigledger.release.view import ReleaseView

_SCOPES = {
    "rig": "rigs", "platform": "platforms", "card": "cards", "workload": "workloads",
    "contributor": "contributors",
}  # fmt: skip


def released_claims(path: Path, view: ReleaseView) -> str:
    """Write the claims that speak only of what the release holds.

    A claim whose scope names a rig, platform, card, workload or contributor that the release
    doesn't hold is left out whole, with its sentence.

    Raises:
        ReleaseError: claims.toml can't be read.
    """
    try:
        held = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise ReleaseError(f"can't be read: {error}", file=path.name) from error
    known = {
        name: {str(row[name]) for row in view.rows(f"SELECT {name} FROM {table}")}
        for name, table in _SCOPES.items()
    }
    return tomli_w.dumps({key: _kept(value, known) for key, value in held.items()})


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
