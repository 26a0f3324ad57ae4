"""The feed of a site: Atom (RFC 4287), one entry a release, dates from the registers."""

from __future__ import annotations

import base64
import re
import uuid
from typing import TYPE_CHECKING
from urllib.parse import urljoin
from xml.etree import ElementTree as ET

from rigledger.legible import legible

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from rigledger.site.collect import ShownRelease, ShownStudy

ATOM = "http://www.w3.org/2005/Atom"
# XML 1.0 has no way to write these characters.
_NOT_IN_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def feed_text(studies: Sequence[ShownStudy], title: str, address: str | None) -> str:
    """Write the feed.

    Args:
        studies: The studies.
        title: Title of the site.
        address: Address at which the site will stand, ending in a slash; None leaves the links
            relative to the feed.

    Returns:
        XML; the same registers always give the same text.
    """
    shown = sorted(
        ((study, item) for study in studies for item in study.releases),
        key=lambda pair: (pair[1].updated_on, pair[0].name, pair[1].entry.released_on),
        reverse=True,
    )
    feed = ET.Element("feed", xmlns=ATOM)
    names = " ".join(study.name for study in studies)
    _add(feed, "id", address or uuid.uuid5(uuid.NAMESPACE_URL, f"releases of {names}").urn)
    _add(feed, "title", title)
    _add(feed, "updated", _moment(max(item.updated_on for _, item in shown)))
    _add(ET.SubElement(feed, "author"), "name", title)
    if address:
        ET.SubElement(feed, "link", rel="self", href=f"{address}feed.xml")
    ET.SubElement(feed, "link", rel="alternate", href=f"{address or ''}index.html")
    for study, item in shown:
        _entry(feed, study, item, address or "")
    ET.indent(feed)
    return '<?xml version="1.0" encoding="utf-8"?>\n' + ET.tostring(feed, "unicode") + "\n"


def _entry(feed: ET.Element, study: ShownStudy, item: ShownRelease, address: str) -> None:
    entry = ET.SubElement(feed, "entry")
    held = item.entry
    _add(entry, "id", hash_name(held.fingerprint))
    status = f" ({held.status})" if held.status == "retracted" else ""
    _add(entry, "title", f"{study.title}, version {held.version}{status}")
    _add(entry, "updated", _moment(item.updated_on))
    _add(entry, "published", _moment(held.released_on))
    target = f"{item.link}/index.html" if item.link else f"index.html#{study.name}"
    ET.SubElement(entry, "link", rel="alternate", href=urljoin(address, target))
    _add(entry, "summary", _summary(item))


def _summary(item: ShownRelease) -> str:
    if item.entry.status == "retracted":
        return f"Retracted: {item.entry.reason}"
    return "; ".join(item.reasons) or "A release."


def hash_name(sha256: str) -> str:
    """Name a thing by its hash as RFC 6920 has it: ``ni:///sha-256;`` and URL-safe base64."""
    digest = base64.urlsafe_b64encode(bytes.fromhex(sha256)).decode("ascii").rstrip("=")
    return f"ni:///sha-256;{digest}"


def _add(parent: ET.Element, name: str, text: str) -> None:
    ET.SubElement(parent, name).text = _NOT_IN_XML.sub("\ufffd", legible(text))


def _moment(day: date) -> str:
    return f"{day.isoformat()}T00:00:00Z"
