"""CHANGES.md of a release: what its changes.csv says, for a person."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.counting import counted
from rigledger.release.changes_moves import moved_sections, turned_sections
from rigledger.release.changes_words import Section, markdown, row_line, section, written

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rigledger.release.view import ReleaseView


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
    for part in changes_sections(view):
        yield from written(part)
    yield from _summary(view)
    yield "Every changed row is listed in changes.csv, with what brought it."


def changes_sections(view: ReleaseView) -> list[Section]:
    """Tell what differs from the release before; nothing where there is none before."""
    if view.meta.previous is None:
        return []
    came = section("What came and went", _came_and_went(view))
    return [*came, *turned_sections(view), *moved_sections(view), *_verdicts(view), *_values(view)]


def _opening(view: ReleaseView) -> str:
    meta = view.meta
    day = meta.released_on.isoformat()
    if meta.previous is None:
        return f"First release, {day}. All rows are new."
    return (
        f"Released {day}; compared with {meta.previous.version} "
        f"(fingerprint {meta.previous.fingerprint}). This is a {meta.step} step, because:"
    )


def _came_and_went(view: ReleaseView) -> list[str]:
    return [*_sets(view), *_corrections(view)]


def _sets(view: ReleaseView) -> Iterator[str]:
    """Tell each set that is new, superseded or withdrawn, with the rows that it brought or took."""
    rows = view.rows(
        """
        WITH named AS (
            SELECT DISTINCT substr(key, length('set_id=') + 1) AS set_id
            FROM changes WHERE "table" = 'sets'
        ), runs_by_cause AS (
            SELECT because, count(DISTINCT key) FILTER (change = 'added') AS came,
                   count(DISTINCT key) FILTER (change = 'removed') AS gone
            FROM changes WHERE "table" = 'runs' AND because IS NOT NULL GROUP BY because
        )
        SELECT sets.set_id, sets.contributor, sets.state, sets.reason, sets.supersedes,
               (SELECT sum(came) FROM runs_by_cause
                WHERE starts_with(because || ' ', 'set ' || sets.set_id || ' ')) AS came,
               (SELECT sum(gone) FROM runs_by_cause
                WHERE starts_with(because || ' ', 'set ' || sets.set_id || ' ')) AS gone
        FROM sets JOIN named USING (set_id) ORDER BY sets.set_id
        """
    )
    for row in rows:
        yield _set_line(row)


def _set_line(row: dict[str, Any]) -> str:
    name = f"Set {markdown(row['set_id'])}"
    if row["state"] == "withdrawn":
        why = markdown(row["reason"])
        return f"{name} is withdrawn, {counted(int(row['gone'] or 0), 'run')} with it: {why}"
    if row["state"] == "superseded":
        return f"{name} is {markdown(row['reason'])}; {int(row['gone'] or 0)} of its runs are gone."
    old = f" It supersedes {markdown(row['supersedes'])}." if row["supersedes"] else ""
    who = markdown(row["contributor"])
    return f"{name} by {who} is new, with {counted(int(row['came'] or 0), 'run')}.{old}"


def _corrections(view: ReleaseView) -> Iterator[str]:
    rows = view.rows(
        """
        SELECT corrections.*, any_value(changes.change) AS happened
        FROM corrections JOIN changes
          ON changes."table" = 'corrections' AND changes.key = 'correction=' || correction
        GROUP BY ALL ORDER BY correction
        """
    )
    for row in rows:
        place = ", ".join(str(row[k]) for k in ("session", "run", "metric") if row[k] is not None)
        what = markdown(f"{row['action']} {row['field'] or ''}".strip())
        values = ""
        if row["field"] is not None:
            was = "blank" if row["was"] is None else markdown(row["was"])
            values = f" from {was} to {markdown(row['becomes'])}"
        yield (
            f"Correction {markdown(row['correction'])} ({row['status']}, "
            f"{row['decided_on'].isoformat()}): {what}{values} in {markdown(place)}, because "
            f"{markdown(row['reason'])}"
        )
    gone = (
        "SELECT key FROM changes WHERE \"table\" = 'corrections' AND change = 'removed' ORDER BY 1"
    )
    for row in view.rows(gone):
        yield f"{markdown(row['key'])} is no longer declared."


def _summary(view: ReleaseView) -> Iterator[str]:
    rows = view.rows(
        """
        WITH counted AS (
            SELECT "table", count(*) FILTER (change = 'added') AS added,
                   count(*) FILTER (change = 'removed') AS removed
            FROM changes WHERE "table" <> 'current_comparisons' GROUP BY 1
        ), differing AS (
            SELECT "table", count(DISTINCT key) AS changed
            FROM changes WHERE change = 'changed' GROUP BY 1
        )
        SELECT "table" AS name, added, removed, coalesce(changed, 0) AS changed
        FROM counted LEFT JOIN differing USING ("table") ORDER BY 1
        """
    )
    if not rows:
        yield from ("No row differs.", "")
        return
    yield from ("## Rows", "")
    yield from ("| table | rows added | rows removed | rows changed |", "|---|---:|---:|---:|")
    for row in rows:
        yield f"| {row['name']} | {row['added']} | {row['removed']} | {row['changed']} |"
    yield ""


def _verdicts(view: ReleaseView) -> list[Section]:
    """List verdicts on one and the same row: the runs are others, or the statistics are."""
    rows = view.rows(
        """
        SELECT * FROM changes
        WHERE change = 'changed' AND "table" IN ('comparisons', 'factor_effects')
        ORDER BY ALL
        """
    )
    return section(
        "Verdicts on the same runs, or on the same stack, that changed", map(row_line, rows)
    )


def _values(view: ReleaseView) -> list[Section]:
    rows = view.rows(
        """
        SELECT * FROM changes
        WHERE change = 'changed' AND "table" NOT IN
            ('comparisons', 'factor_effects', 'claims', 'current_comparisons', 'corrections')
        ORDER BY ALL
        """
    )
    return section("Values that changed", map(row_line, rows))
