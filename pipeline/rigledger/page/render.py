"""Renders index.html from a release: self-contained, no script needed, nothing fetched."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.page.answer import answer_sentences, query
from rigledger.page.words import counted, plain_number, signed_pct, verdict

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
    page: str = _template().render(
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
    environment.filters |= {"pct": signed_pct, "number": plain_number}
    environment.globals |= {"verdict": verdict, "counted": counted}
    return environment.get_template("index.html.j2")


def _cite(view: ReleaseView) -> str:
    from rigledger.release.citation import cite_as

    return cite_as(view)


def _tables(view: ReleaseView) -> dict[str, list[dict[str, Any]]]:
    """Run the page's queries; a table that this release lacks gives no rows."""
    needs = {
        "comparisons": "comparisons",
        "depends": "factor_effects",
        "unfinished": "cells",
        "contributors": "contributors",
        "sets": "sets",
    }
    found = {
        name: view.rows(query(name)) if view.has(needed) else [] for name, needed in needs.items()
    }
    return found | {"findings": view.rows(query("findings"))}


def _quality(view: ReleaseView) -> list[dict[str, Any]]:
    """Pair expectations with their results, those that are not met first."""
    results = {held["name"]: held for held in view.results["results"]}
    rows = [item | results[item["name"]] for item in view.suite["expectations"]]
    return sorted(rows, key=lambda row: (row["met"], row["name"]))
