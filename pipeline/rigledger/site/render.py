"""Writes a site: index.html and feed.xml, nothing fetched, the same registers the same bytes."""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

import rigledger.page
from rigledger.files import write_text
from rigledger.legible import legible_part
from rigledger.release.errors import ReleaseError
from rigledger.site.collect import ShownStudy, collect
from rigledger.site.feed import feed_text

if TYPE_CHECKING:
    from collections.abc import Sequence

_TEMPLATES = Path(__file__).parent / "templates"
_STYLE = Path(rigledger.page.__file__).parent / "templates" / "page.css"


def write_site(
    studies: Sequence[Path], out: Path, *, title: str, address: str | None = None
) -> tuple[ShownStudy, ...]:
    """Write the page and the feed over the releases of studies.

    Args:
        studies: Folders of studies, each with a register.
        out: Folder to write; links lead from it to the studies' releases.
        title: Title of the site.
        address: Address at which it will stand, for the feed; None leaves links relative.

    Returns:
        What is shown.

    Raises:
        StudyError: A folder is no study.
        ReleaseError: A register can't be read or is empty, or the address is none.
        MissingExtraError: A package of the curator's install is missing.
    """
    if address is not None and not address.startswith(("http://", "https://")):
        raise ReleaseError(
            "is no address of a site", value=address, next_step="begin it with https://"
        )
    shown = collect(studies, out)
    at = f"{address.rstrip('/')}/" if address else None
    write_text(out / "index.html", page_text(shown, title))
    write_text(out / "feed.xml", feed_text(shown, title, at))
    return shown


def page_text(studies: Sequence[ShownStudy], title: str) -> str:
    """Render the page, in the look of a release's; every text from a study is escaped."""
    import jinja2
    from markupsafe import Markup

    style = _STYLE.read_text(encoding="utf-8")
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_TEMPLATES),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=legible_part,
    )
    digest = base64.b64encode(hashlib.sha256(style.encode("utf-8")).digest()).decode("ascii")
    page: str = environment.get_template("site.html.j2").render(
        title=title,
        studies=studies,
        style=Markup(style),  # noqa: S704 - our own file
        policy=f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'",
    )
    return page
