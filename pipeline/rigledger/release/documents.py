"""The files of a release that are made from its tables and description: rebuilt to be rechecked."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.page.render import render_page
from rigledger.release.catalogue import crate_text, deposit_text
from rigledger.release.citation import citation_text, licence_text
from rigledger.release.describe import json_text
from rigledger.release.folder import CRATE
from rigledger.tabular import column_names

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.contract.model import Table
    from rigledger.release.view import ReleaseView

_TEMPLATES = Path(__file__).parent / "templates"


def documents(
    view: ReleaseView, descriptor: Mapping[str, Any], descriptor_sha256: str
) -> dict[str, str]:
    """Make the files that follow datapackage.json in the order of hashes.

    Args:
        view: The release.
        descriptor: Its datapackage.json.
        descriptor_sha256: Hash of that file.

    Returns:
        Path to text; the same release always gives the same texts.

    Raises:
        ReleaseError: The citation would not be valid.
    """
    return {
        "CITATION.cff": citation_text(descriptor, descriptor_sha256),
        ".zenodo.json": deposit_text(descriptor),
        CRATE: crate_text(descriptor, descriptor_sha256, len(json_text(descriptor).encode())),
        "LICENSE": licence_text(view),
        "readers.md": readers_text(view),
        "index.html": render_page(view, descriptor, descriptor_sha256),
    }


def readers_text(view: ReleaseView) -> str:
    """Write readers.md: how to read the tables with common tools."""
    wide = next(held.table for held in view.published if held.table.name == "runs_wide")
    text: str = _readers_template().render(
        name=view.name,
        comparisons=view.has("comparisons"),
        claims=view.has("claims") and bool(view.rows("SELECT 1 FROM claims LIMIT 1")),
        metric=view.design.metrics[0],
        text_columns=[field.name for field in wide.fields if field.type == "string"],
        spreadsheet_columns=_spreadsheet_columns(wide),
        captures=captures_here(view),
        made_with=view.meta.made_with,
    )
    return text


@cache
def _readers_template() -> Any:  # noqa: ANN401 - jinja2 is imported only here
    import jinja2

    return jinja2.Environment(
        loader=jinja2.FileSystemLoader(_TEMPLATES),
        undefined=jinja2.StrictUndefined,
        autoescape=False,  # noqa: S701 - Markdown, and only names that the contract's patterns allow
        keep_trailing_newline=True,
    ).get_template("readers.md.j2")


def _spreadsheet_columns(table: Table) -> str:
    """Say to LibreOffice's text import which columns are text (2) and which it may read (1).

    Its filter options, token 5: pairs of column and format, in one list.
    """
    pairs = (
        f"{place}/{2 if field.type == 'string' else 1}"
        for place, field in enumerate(table.fields, start=1)
    )
    return "/".join(pairs)


def captures_here(view: ReleaseView) -> int:
    """Count the captures that the release includes."""
    if not column_names(view.con, "captures"):
        return 0
    rows = view.rows("SELECT count(*) AS number FROM captures WHERE state = 'here'")
    return int(rows[0]["number"])
