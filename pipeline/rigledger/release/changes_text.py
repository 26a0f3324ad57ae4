"""CHANGES.md of a release: what its changes.csv says, for a person."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from rigledger.release.view import ReleaseView

_SHOWN = 40
_SPECIAL = str.maketrans({mark: f"\\{mark}" for mark in "\\`*_{}[]<>|#~"})


def markdown(text: object) -> str:
    """Give text so that Markdown shows it as it is, on one line."""
    return " ".join(str(text).split()).translate(_SPECIAL)


def changes_text(view: ReleaseView) -> str:
    """Write CHANGES.md from the table ``changes`` and what the release says of itself."""
    return "\n".join(_lines(view)) + "\n"


def _lines(view: ReleaseView) -> Iterator[str]:
    meta = view.meta
    yield f"# {markdown(view.design.title)}: {meta.version}"
    yield ""
    yield _opening(view)
    yield ""
    yield from (f"- {markdown(reason)}" for reason in meta.reasons)
    if meta.reasons:
        yield ""
    yield from _summary(view)
    yield from _verdicts(view)
    yield from _values(view)
    yield "Every changed row is listed in changes.csv."


def _opening(view: ReleaseView) -> str:
    meta = view.meta
    day = meta.released_on.isoformat()
    if meta.previous is None:
        return f"First release, {day}. All rows are new."
    return (
        f"Released {day}; compared with {meta.previous.version} "
        f"(fingerprint {meta.previous.fingerprint}). This is a {meta.step} step, because:"
    )


def _summary(view: ReleaseView) -> Iterator[str]:
    rows = view.rows(
        """
        SELECT "table" AS name,
               count(*) FILTER (change = 'added') AS added,
               count(*) FILTER (change = 'removed') AS removed,
               count(DISTINCT key) FILTER (change = 'changed') AS changed
        FROM changes GROUP BY 1 ORDER BY 1
        """
    )
    if not rows:
        yield from ("No row differs.", "")
        return
    yield from ("| table | rows added | rows removed | rows changed |", "|---|---:|---:|---:|")
    for row in rows:
        yield f"| {row['name']} | {row['added']} | {row['removed']} | {row['changed']} |"
    yield ""


def _verdicts(view: ReleaseView) -> Iterator[str]:
    yield from _listed(
        "Verdicts that changed",
        view.rows(
            """
            SELECT * FROM changes
            WHERE change = 'changed' AND "table" IN ('comparisons', 'factor_effects', 'claims')
            ORDER BY ALL
            """
        ),
    )


def _values(view: ReleaseView) -> Iterator[str]:
    yield from _listed(
        "Values that changed",
        view.rows(
            """
            SELECT * FROM changes
            WHERE change = 'changed' AND "table" NOT IN ('comparisons', 'factor_effects', 'claims')
            ORDER BY ALL
            """
        ),
    )


def _listed(title: str, rows: list[dict[str, Any]]) -> Iterable[str]:
    if not rows:
        return []
    more = [f"- and {len(rows) - _SHOWN} more"] if len(rows) > _SHOWN else []
    return [f"## {title}", "", *(_row(row) for row in rows[:_SHOWN]), *more, ""]


def _row(row: dict[str, Any]) -> str:
    was = "blank" if row["was"] is None else markdown(row["was"])
    becomes = "blank" if row["becomes"] is None else markdown(row["becomes"])
    return (
        f"- {row['table']}, {markdown(row['key'])}: {markdown(row['field'])} "
        f"was {was}, becomes {becomes}"
    )
