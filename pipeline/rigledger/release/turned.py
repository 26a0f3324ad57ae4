"""Claims that held in the release before and don't any more: never published unseen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.release.errors import ReleaseError

if TYPE_CHECKING:
    import duckdb

_TURNED = (Path(__file__).parent / "sql" / "turned.sql").read_text(encoding="utf-8")


def refuse_turned(con: duckdb.DuckDBPyConnection) -> None:
    """Refuse a release in which a claim has turned that its author hasn't acknowledged.

    Args:
        con: Connection with the tables ``claims`` and ``changes``.

    Raises:
        ReleaseError: A claim held in the release before and doesn't now; the first is named, with
            why, and how many there are.
    """
    turned = con.execute(_TURNED).fetchall()
    if not turned:
        return
    claim, sentence, verdict, because = turned[0]
    others = len(turned) - 1
    more = f" (and {others} more claims turned)" if others else ""
    raise ReleaseError(
        f'the claim held in the release before and now is "{verdict.replace("_", " ")}": '
        f"{sentence} Because: {because}{more}",
        file="claims.toml", column="acknowledged", value=claim,
        next_step="mend the sentence, or write acknowledged = true with a reason: it is then "
        "published as it was found",
    )  # fmt: skip
