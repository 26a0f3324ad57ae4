"""Renders index.html from a release: self-contained, nothing fetched."""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.page.answer import answer_sentences, query
from rigledger.page.embed import json_for_html
from rigledger.page.tables import page_data, scope_line
from rigledger.page.words import byte_size, counted
from rigledger.release.catalogue import dataset_jsonld

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.release.view import ReleaseView

_TEMPLATES = Path(__file__).parent / "templates"


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

    script, style = _part("page.js"), _part("page.css")
    dataset = dataset_jsonld(descriptor, descriptor_sha256)
    page: str = _template().render(
        policy=_policy(script, style),
        script=Markup(script),  # noqa: S704 - our own file
        style=Markup(style),  # noqa: S704 - our own file
        data=Markup(json_for_html(page_data(view))),  # noqa: S704 - escaped for a script element
        jsonld=Markup(json_for_html(dataset)),  # noqa: S704 - escaped for a script element
        scope=scope_line(view),
        view=view,
        design=view.design,
        meta=view.meta,
        answers=answer_sentences(view),
        cite=_cite(view),
        tables=_tables(view),
        downloads=descriptor["resources"],
        descriptor_sha256=descriptor_sha256,
        quality=_quality(view),
    )
    return page


def _part(name: str) -> str:
    return (_TEMPLATES / name).read_text(encoding="utf-8")


def _policy(script: str, style: str) -> str:
    """Allow the page's own script and style by their hash, and nothing else, from nowhere."""
    return (
        f"default-src 'none'; script-src {_hash_source(script)}; style-src {_hash_source(style)}; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash_source(text: str) -> str:
    digest = base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
    return f"'sha256-{digest}'"


def _template() -> Any:  # noqa: ANN401 - jinja2 is imported only here
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_TEMPLATES),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["size"] = byte_size
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
        "sets": "sets",
        "claims": "claims",
    }
    found = {
        name: view.rows(query(name)) if view.has(needed) else [] for name, needed in needs.items()
    }
    return found | {name: view.rows(query(name)) for name in ("findings", "changes")}


def _quality(view: ReleaseView) -> list[dict[str, Any]]:
    """Pair expectations with their results, those that are not met first."""
    results = {held["name"]: held for held in view.results["results"]}
    rows = [item | results[item["name"]] for item in view.suite["expectations"]]
    return sorted(rows, key=lambda row: (row["met"], row["name"]))
