"""Makes the generated files of a release again and compares their bytes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from rigledger.files import sha256_of
from rigledger.release.changes_text import changes_text
from rigledger.release.claims_text import released_claims
from rigledger.release.describe import describe, json_text
from rigledger.release.design_text import design_toml
from rigledger.release.differences import Previous, find_changes
from rigledger.release.documents import documents
from rigledger.release.folder import CHANGES_TEXT, CLAIMS, DESCRIPTOR, RESULTS, STUDY, SUITE
from rigledger.release.outcome import Difference
from rigledger.release.quality import assess, suite_of
from rigledger.release.write import schema_files
from rigledger.tabular import column_names, count_rows, text_select

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Table
    from rigledger.release.view import ReleaseView


def regenerate(
    folder: Path,
    view: ReleaseView,
    descriptor: dict[str, Any],
    previous: Previous | None,
    *,
    deep: bool = False,
    own_schema: bool = True,
) -> list[Difference]:
    """Make design, quality, changes, description, citation and page again.

    Args:
        folder: The release.
        view: Its tables and description, as read from it.
        descriptor: Its datapackage.json as read.
        previous: The release before, where it was given.
        deep: Whether the expectations are evaluated again too.
        own_schema: Whether schema/ has to be this version's contract.

    Returns:
        Files whose bytes are not those that this version makes from the same tables.
    """
    texts = _stated(folder, view) | {DESCRIPTOR: json_text(describe(folder, view))}
    texts |= documents(view, descriptor, sha256_of(folder / DESCRIPTOR))
    found = [
        Difference("made_differently", path, "is not what the tables and the description give")
        for path, text in texts.items()
        if not _same(folder / path, text.encode("utf-8"))
    ]
    schema = _schema(folder) if own_schema else []
    checked = [*found, *schema, *_counts(view), *_changes(view, previous)]
    return [*checked, *_quality(folder, view, previous, deep=deep)]


def _stated(folder: Path, view: ReleaseView) -> dict[str, str]:
    texts = {STUDY: design_toml(view.design), CHANGES_TEXT: changes_text(view)}
    if (folder / CLAIMS).is_file():
        texts[CLAIMS] = released_claims(folder / CLAIMS, view.con)
    return texts


def _same(path: Path, expected: bytes) -> bool:
    return path.is_file() and path.read_bytes() == expected


def _schema(folder: Path) -> list[Difference]:
    files = schema_files()
    return [
        Difference("made_differently", path, "is not this version's contract")
        for path, source in files.items()
        if not _same(folder / path, source.read_bytes())
    ]


def _counts(view: ReleaseView) -> list[Difference]:
    """Hold the rows of each table against the counts that the quality results recorded."""
    names = [held.table.name for held in view.published]
    counted = count_rows(view.con, names)
    recorded = view.results.get("rows", {})
    says = f"the table has another number of rows than {RESULTS} records"
    return [
        Difference(
            "rows_counted", held.csv, says,
            recorded=str(recorded.get(held.table.name)), found=str(counted[held.table.name]),
        )
        for held in view.published
        if recorded.get(held.table.name) != counted[held.table.name]
    ]  # fmt: skip


def _changes(view: ReleaseView, previous: Previous | None) -> list[Difference]:
    """Compare changes.csv with the difference made again, or with what the tables hold now."""
    if view.meta.previous is None or previous is not None:
        return _changes_again(view, previous)
    _list_keys(view)
    rows = view.con.execute(_CONTRADICTED).fetchall()
    return [
        Difference(
            "value_differs", "changes.csv", f"the row is listed as {change}, and is not", key
        )
        for key, change in rows
    ]


def _changes_again(view: ReleaseView, previous: Previous | None) -> list[Difference]:
    con = view.con
    table = _as_read(con, view.contract.table("derived", "changes"))
    con.execute(f"CREATE OR REPLACE TEMP TABLE _recorded AS {text_select(table)}")
    con.execute("ALTER TABLE changes RENAME TO recorded_changes")
    try:
        find_changes(con, view.contract, view.published, previous)
        con.execute(f"CREATE OR REPLACE TEMP TABLE _again AS {text_select(table)}")
    finally:
        con.execute("DROP TABLE IF EXISTS changes")
        con.execute("ALTER TABLE recorded_changes RENAME TO changes")
    rows = con.execute(
        """
        SELECT key, 'the change did not happen' FROM (FROM _recorded EXCEPT ALL FROM _again)
        UNION ALL
        SELECT key, 'the change is not listed' FROM (FROM _again EXCEPT ALL FROM _recorded)
        ORDER BY ALL
        """
    ).fetchall()
    return [Difference("value_differs", "changes.csv", says, key) for key, says in rows]


def _as_read(con: duckdb.DuckDBPyConnection, table: Table) -> Table:
    """Leave out the columns that an older release does not hold."""
    held = column_names(con, f"text_{table.name}")
    return replace(table, fields=tuple(field for field in table.fields if field.name in held))


_CONTRADICTED = """
SELECT changes.key, changes.change
FROM changes LEFT JOIN _keys ON _keys."table" = changes."table" AND _keys.key = changes.key
WHERE changes."table" IN (SELECT "table" FROM _keys)
  AND (changes.change = 'removed') = (_keys.key IS NOT NULL)
ORDER BY ALL
"""


def _list_keys(view: ReleaseView) -> None:
    """List the keys of all source rows, spelled as changes.csv spells them."""
    con = view.con
    con.execute("ALTER TABLE changes RENAME TO recorded_changes")
    try:
        find_changes(con, view.contract, view.published, None)
        con.execute('CREATE OR REPLACE TEMP TABLE _keys AS SELECT "table", key FROM changes')
    finally:
        con.execute("DROP TABLE IF EXISTS changes")
        con.execute("ALTER TABLE recorded_changes RENAME TO changes")


def _quality(
    folder: Path, view: ReleaseView, previous: Previous | None, *, deep: bool
) -> list[Difference]:
    """Make expectations, and their results if asked, again where all their inputs are here."""
    if view.meta.previous is not None and previous is None:
        return []
    day = view.meta.released_on
    suite, _ = suite_of(view.con, view.design, view.published, previous, day)
    again: dict[str, Any] = {SUITE: {"expectations": [item.as_dict() for item in suite]}}
    if deep:
        again[RESULTS] = assess(view.con, view.design, view.published, previous, day)[1]
    return [
        Difference("made_differently", path, "is not what such a release is expected to be")
        for path, held in again.items()
        if not _same(folder / path, json_text(held).encode("utf-8"))
    ]


def marked(differences: list[Difference], *, other_version: bool) -> list[Difference]:
    """Mark differences that another version of the program may explain."""
    return [replace(one, other_version=other_version) for one in differences]
