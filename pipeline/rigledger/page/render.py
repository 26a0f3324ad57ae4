"""Renders index.html from a release: self-contained, nothing fetched."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.counting import counted
from rigledger.legible import legible_part
from rigledger.page.answer import answer_of, query
from rigledger.page.embed import json_for_html, json_to_show
from rigledger.page.library import chart_library
from rigledger.page.tables import page_data, scope_line, shown_names
from rigledger.page.words import byte_size, typeset, with_names
from rigledger.release.catalogue import dataset_jsonld

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from rigledger.release.changes_words import Section
    from rigledger.release.view import ReleaseView

_TEMPLATES = Path(__file__).parent / "templates"
_CHANGES_SHOWN = 8


def render_page(view: ReleaseView, descriptor: Mapping[str, Any], descriptor_sha256: str) -> str:
    """Render the page of a release.

    Args:
        view: The release.
        descriptor: Its datapackage.json, from which the downloads are listed.
        descriptor_sha256: Hash of that file; the page can't show its own.

    Returns:
        HTML; every text that comes from the study is escaped.
    """
    from markupsafe import Markup

    script, style, charts = _script(), _part("page.css"), chart_library()
    dataset = dataset_jsonld(descriptor, descriptor_sha256)
    page: str = _template().render(
        policy=_policy((charts, script), style),
        charts=Markup(charts),  # noqa: S704 - the library's own text
        script=Markup(script),  # noqa: S704 - our own files
        style=Markup(style),  # noqa: S704 - our own file
        data=Markup(json_to_show(page_data(view))),  # noqa: S704 - escaped for a script element
        jsonld=Markup(json_for_html(dataset)),  # noqa: S704 - escaped for a script element
        scope=scope_line(view),
        view=view,
        design=view.design,
        meta=view.meta,
        answer=answer_of(view),
        cite=_cite(view),
        tables=_tables(view),
        downloads=_downloads(descriptor),
        tables_to_read=_tables_to_read(descriptor),
        descriptor_sha256=descriptor_sha256,
        quality=_quality(view),
        changed=_changed(view),
        changes_shown=_CHANGES_SHOWN,
    )
    return page


def _part(name: str) -> str:
    return (_TEMPLATES / name).read_text(encoding="utf-8")


def _script() -> str:
    """Join the parts of the page's script in the order of their names."""
    parts = sorted((_TEMPLATES / "script").glob("*.js"))
    return "".join(path.read_text(encoding="utf-8") for path in parts)


def _downloads(descriptor: Mapping[str, Any]) -> list[dict[str, Any]]:
    """List the files of a release; captures have their own table and are not listed one by one."""
    held = descriptor["resources"]
    return [item for item in held if not item["path"].startswith("captures/")]


def _tables_to_read(descriptor: Mapping[str, Any]) -> list[str]:
    """Name the files that most readers want: the tables as CSV."""
    folders = ("data/", "derived/")
    paths = [str(item["path"]) for item in descriptor["resources"]]
    return [path for path in paths if path.startswith(folders) and path.endswith(".csv")]


def _policy(scripts: Iterable[str], style: str) -> str:
    """Allow the page's own scripts and style by their hash, and nothing else, from nowhere.

    The charts set style attributes of their own marks, which can't fetch anything either.
    """
    allowed = " ".join(_hash_source(script) for script in scripts)
    return (
        f"default-src 'none'; script-src {allowed}; style-src {_hash_source(style)}; "
        "style-src-attr 'unsafe-inline'; base-uri 'none'; form-action 'none'"
    )


def _hash_source(text: str) -> str:
    digest = base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
    return f"'sha256-{digest}'"


@cache
def _template() -> Any:  # noqa: ANN401 - jinja2 is imported only here
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_TEMPLATES),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=legible_part,
    )
    environment.filters["size"] = byte_size
    environment.filters["typeset"] = typeset
    environment.globals["counted"] = counted
    return environment.get_template("index.html.j2")


def _cite(view: ReleaseView) -> str:
    from rigledger.release.citation import cite_as

    return cite_as(view)


def _tables(view: ReleaseView) -> dict[str, list[dict[str, Any]]]:
    """Run the page's queries; a table that this release lacks gives no rows."""
    needs = {
        "unfinished": "cells",
        "contributors": "contributors",
        "people": "counted_as_one",
        "sets": "sets",
        "claims": "claims",
    }
    found = {
        name: view.rows(query(name)) if view.has(needed) else [] for name, needed in needs.items()
    }
    return found | {name: view.rows(query(name)) for name in ("findings", "changes")}


def _changed(view: ReleaseView) -> list[Section]:
    """Give what CHANGES.md tells, as text: the page escapes in its own way."""
    from rigledger.release.changes_text import changes_sections
    from rigledger.release.changes_words import Section, plain

    names = shown_names(view)
    return [
        Section(part.title, tuple(with_names(plain(line), names) for line in part.lines))
        for part in changes_sections(view)
    ]


def _quality(view: ReleaseView) -> list[dict[str, Any]]:
    """Pair expectations with their results, those that are not met first."""
    results = {held["name"]: held for held in view.results["results"]}
    rows = [item | results[item["name"]] for item in view.suite["expectations"]]
    return sorted(rows, key=lambda row: (row["met"], row["name"]))
