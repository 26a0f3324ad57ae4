"""A claim as an entry of claims.toml."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rigledger.claims.model import Claim


def entry_of(claim: Claim) -> str:
    """Write a claim as an entry that `read.read_claims` reads back as the same claim."""
    return "\n".join(("[[claims]]", *_lines(claim))) + "\n"


def _lines(claim: Claim) -> Iterator[str]:
    yield f"claim = {_text(claim.claim)}"
    yield f"sentence = {_text(claim.sentence)}"
    yield f"quantity = {_text(claim.quantity)}"
    if claim.printed is not None:
        yield f"value = {_text(claim.printed.text)}"
    if claim.order:
        yield f"order = {_list(claim.order)}"
    for name in ("direction", "ranked_by", "factor", "against"):
        value = getattr(claim, name)
        if value is not None:
            yield f"{name} = {_text(value)}"
    for dimension, names in claim.scope.named:
        yield f"scope.{dimension}s = {_list(names)}"
    if claim.acknowledged:
        yield "acknowledged = true"
        yield f"reason = {_text(claim.reason or '')}"


def _text(value: str) -> str:
    # A JSON string is a TOML basic string but for the one control character JSON leaves bare.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _list(names: tuple[str, ...]) -> str:
    return f"[{', '.join(_text(name) for name in names)}]"
