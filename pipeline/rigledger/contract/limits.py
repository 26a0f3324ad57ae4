"""The limits of schema/limits.toml; findings name the key they ran into."""

from __future__ import annotations

import tomllib
from functools import lru_cache

from rigledger.contract.load import schema_folder
from rigledger.errors import ContractError, near_names


@lru_cache(maxsize=1)
def _limits() -> dict[str, dict[str, int]]:
    path = schema_folder() / "limits.toml"
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise ContractError(f"can't be read: {error}", file=path.name) from error


def limit(key: str) -> int:
    """Give a limit by its dotted key, such as ``zip.entries``.

    Raises:
        ContractError: There is no such limit.
    """
    part, _, name = key.partition(".")
    held = _limits().get(part, {})
    if name not in held:
        legal = [f"{one}.{two}" for one, inner in _limits().items() for two in inner]
        raise ContractError("unknown limit", column=key, next_step=near_names(key, legal))
    return held[name]


def named(key: str) -> str:
    """Give a limit as a finding quotes it: ``the limit zip.entries = 5000``."""
    return f"the limit {key} = {limit(key)}"


def megabytes(key: str) -> int:
    """Give a limit stated in megabytes as bytes."""
    return limit(key) * 1024 * 1024
