"""datapackage.json of a release: the one description from which the catalogue files are made."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from json.encoder import encode_basestring
from typing import TYPE_CHECKING, Any

from rigledger.contract.descriptor import (
    Contributor,
    file_resource,
    licence,
    package_descriptor,
    resource,
)
from rigledger.files import files_below, sha256_of
from rigledger.release.folder import NOT_DESCRIBED
from rigledger.release.published import own_tables

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.release.view import ReleaseView
    from rigledger.study.model import Author

_MEDIA_TYPES = {
    "parquet": "application/vnd.apache.parquet",
    "json": "application/json",
    "toml": "application/toml",
    "md": "text/markdown",
    "sql": "application/sql",
}
_NOT_IN_A_NAME = re.compile(r"[^a-z0-9._-]+")


def json_text(held: Mapping[str, Any]) -> str:
    """Write JSON as a release does: two blanks, letters as they are, a newline at the end."""
    return _indented(held, "\n") + "\n"


_leaf = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode


def _indented(held: Any, line: str) -> str:  # noqa: ANN401 - any JSON value
    """Write what ``json.dumps`` with ``indent=2`` gives, which takes three times as long."""
    if isinstance(held, str):
        return encode_basestring(held)
    deeper = f"{line}  "
    if isinstance(held, dict | Mapping):
        cells = [
            f"{encode_basestring(str(name))}: {_indented(value, deeper)}"
            for name, value in held.items()
        ]
        opening, closing = "{}"
    elif isinstance(held, list | tuple):
        cells = [_indented(value, deeper) for value in held]
        opening, closing = "[]"
    else:
        return _leaf(held)
    if not cells:
        return opening + closing
    return f"{opening}{deeper}{f',{deeper}'.join(cells)}{line}{closing}"


def describe(folder: Path, view: ReleaseView) -> dict[str, Any]:
    """Describe the files of a release that are there so far.

    Captures are left out: each is named by the hash of its content, and data/captures.csv lists
    them.

    Args:
        folder: The release in the making: tables, schema, quality, changes.
        view: What it is made from.

    Returns:
        A Data Package 2.0 descriptor; our own properties stand under ``rigledger``.
    """
    design, meta = view.design, view.meta
    return package_descriptor(
        name=design.study,
        title=design.title,
        description=_description(view),
        version=meta.version,
        created=f"{meta.released_on.isoformat()}T00:00:00Z",
        licences=[licence(name, view.contract) for name in view.licences()],
        contributors=_contributors(view),
        resources=_resources(folder, view),
        keywords=design.keywords,
        further=_further(view),
    )


def _further(view: ReleaseView) -> dict[str, Any]:
    identifier = view.meta.identifier
    named = {"id": f"https://doi.org/{identifier}"} if identifier else {}
    rows = {"rows": view.results["rows"]}
    return named | {"rigledger": view.meta.as_dict() | rows}


def _description(view: ReleaseView) -> str:
    design = view.design
    return (
        f"{design.question} Frame-rate measurements of the setting “{design.setting}”. "
        "Tables in data/ were measured or declared, tables in derived/ follow from them; every "
        "derived value can be rebuilt from the files here."
    )


def _contributors(view: ReleaseView) -> list[Contributor]:
    authors = [
        Contributor(author.name, ("creator",), orcid_address(author), author.affiliation)
        for author in view.design.authors
    ]
    rows = view.rows("SELECT shown_name FROM contributors ORDER BY contributor")
    return authors + [Contributor(str(row["shown_name"]), ("dataCollector",)) for row in rows]


def orcid_address(author: Author) -> str | None:
    """Give an author's ORCID as an address; None where there is none."""
    if author.orcid is None:
        return None
    return "https://orcid.org/" + author.orcid.rsplit("/", 1)[-1]


def _resources(folder: Path, view: ReleaseView) -> list[dict[str, Any]]:
    rules = tuple(view.contract.rules.values())
    tables = (*view.published, *own_tables(view.contract))
    described = {held.csv: held.table for held in tables if (folder / held.csv).is_file()}
    found = [
        resource(table, path=path, rules=rules, **_file(folder, path))
        for path, table in described.items()
    ]
    others = (
        name
        for name in files_below(folder)
        if name not in described and name not in NOT_DESCRIBED and not name.startswith("captures/")
    )
    return found + [_other(folder, name) for name in others]


def _other(folder: Path, path: str) -> dict[str, Any]:
    ending = path.rsplit(".", 1)[-1]
    title = f"{path}, the same rows as the CSV" if ending == "parquet" else path
    return file_resource(
        _NOT_IN_A_NAME.sub("-", path.lower()),
        path=path, title=title, mediatype=_MEDIA_TYPES.get(ending, "text/plain"),
        **_file(folder, path),
    )  # fmt: skip


def _file(folder: Path, path: str) -> dict[str, Any]:
    return {"sha256": sha256_of(folder / path), "size": (folder / path).stat().st_size}
