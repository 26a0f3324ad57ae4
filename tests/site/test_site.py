"""A site over several studies: what their registers say, escaped, the same bytes every time."""

from __future__ import annotations

import json
from datetime import date
from html.parser import HTMLParser
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import pytest

from rigledger.errors import StudyError
from rigledger.files import sha256_of
from rigledger.release.errors import ReleaseError
from rigledger.release.register import Entry, append_entry
from rigledger.site.feed import ATOM, hash_name
from rigledger.site.render import write_site

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import Browser

HOSTILE = "<script>alert(1)</script> \u202e\"&' \x0b" + "W" * 60
STUDY = """
[study]
study = "{name}"
title = {title}
question = "Does it matter?"
setting = "the setting"
runs_required = 3
rounds_planned = 1
rounds_may_be_added = 0
material_change_pct = 3
spread_prior_pct = 1.0
levels_share_sessions = true
metrics = ["average_fps"]
licence = "CC-BY-4.0"
consent_version = "1"
[[authors]]
name = "Anna"
[[levels]]
level = "off"
title = "Off"
baseline = true
[[levels]]
level = "on"
title = "On"
[[platforms]]
platform = "p1"
family = "marsh"
processor = "Marsh E2"
board = "Stanmer Two"
memory_kit = "Tindle"
[[cards]]
card = "c1"
model = "Velmar 90"
class = "card"
memory_gb = 16
[[workloads]]
workload = "walk"
title = "Walk"
kind = "game"
preset = "high"
graphics_api = "vulkan"
passage = "pier"
passage_length_s = 60
[[plan]]
resolutions = ["1920x1080"]
cards = ["c1"]
"""


class Links(HTMLParser):
    """Collects where links lead, and the names of all elements."""

    def __init__(self) -> None:
        super().__init__()
        self.targets: list[str] = []
        self.tags: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.targets += [str(value) for name, value in attrs if name == "href"]


@pytest.fixture
def make_study(tmp_path: Path) -> Callable[..., Path]:
    """Give a study with registered releases, of which the folders hold what the site reads."""

    def made(name: str, title: str, *versions: str, deposited_at: str | None = None) -> Path:
        place = tmp_path / name
        place.mkdir()
        text = STUDY.format(name=name, title=json.dumps(title))
        (place / "study.toml").write_text(text, encoding="utf-8")
        before = None
        for number, version in enumerate(versions, start=1):
            folder = place / "releases" / f"{name}-{version}"
            folder.mkdir(parents=True)
            (folder / "SHA256SUMS").write_text(f"{name} {version}", encoding="utf-8")
            reasons = ["minor: 6 rows of runs new"] if before else []
            held = {"rigledger": {"version_reasons": reasons}}
            (folder / "datapackage.json").write_text(json.dumps(held), encoding="utf-8")
            fingerprint = sha256_of(folder / "SHA256SUMS")
            day = date(2026, 11, number)
            entry = Entry(version, day, fingerprint, before, "0.1.0", deposited_at, ())
            append_entry(place / "releases.toml", entry)
            before = fingerprint
        return place

    return made


def retract(study: Path, version: str) -> None:
    path = study / "releases.toml"
    block = f'\n[[retraction]]\nversion = "{version}"\non = 2026-11-20\nreason = "a faulty card"\n'
    path.write_text(path.read_text(encoding="utf-8") + block, encoding="utf-8")


def feed(path: Path) -> list[dict[str, str]]:
    entries = ET.parse(path).getroot().findall(f"{{{ATOM}}}entry")  # noqa: S314 - our own file
    return [
        {part.tag.split("}")[1]: part.text or part.get("href", "") for part in e} for e in entries
    ]


def test_the_page_lists_versions_status_changes_and_links(
    make_study: Callable[..., Path], tmp_path: Path
) -> None:
    one = make_study("one", "Study one", "1.0.0", "1.1.0", deposited_at="https://example.org/1")
    two = make_study("two", "Study two", "1.0.0", "1.1.0")
    retract(two, "1.1.0")
    shown = write_site([two, one], tmp_path / "site", title="All of it")
    assert [(s.name, [r.entry.status for r in s.releases]) for s in shown] == [
        ("one", ["published", "superseded"]), ("two", ["retracted", "superseded"]),
    ]  # fmt: skip
    page = (tmp_path / "site" / "index.html").read_text(encoding="utf-8")
    links = Links()
    links.feed(page)
    assert "../one/releases/one-1.1.0/index.html" in links.targets
    assert "../one/releases/one-1.1.0/CHANGES.md" in links.targets
    assert "https://example.org/1" in links.targets
    assert "script" not in links.tags
    assert "retracted on 2026-11-20: <bdi>a faulty card</bdi>" in page
    assert 'Read <a href="../two/releases/two-1.0.0/index.html">version 1.0.0</a>' in page
    assert page.count("minor: 6 rows of runs new") == 2
    relative = [link for link in links.targets if link.endswith("datapackage.json")]
    assert relative == []


def test_the_feed_is_atom_with_dates_from_the_registers(
    make_study: Callable[..., Path], tmp_path: Path
) -> None:
    """RFC 4287, 4.1.1 and 4.1.2: id, title, updated and an alternate link in each entry."""
    one = make_study("one", "Study one", "1.0.0", "1.1.0")
    retract(one, "1.0.0")
    write_site([one], tmp_path / "site", title="All", address="https://example.org/frames")
    path = tmp_path / "site" / "feed.xml"
    root = ET.parse(path).getroot()  # noqa: S314 - our own file
    assert root.tag == f"{{{ATOM}}}feed"
    assert root.findtext(f"{{{ATOM}}}updated") == "2026-11-20T00:00:00Z"
    assert root.findtext(f"{{{ATOM}}}id") == "https://example.org/frames/"
    links = {link.get("rel"): link.get("href") for link in root.findall(f"{{{ATOM}}}link")}
    assert links["self"] == "https://example.org/frames/feed.xml"
    first, second = feed(path)
    assert first == {
        "id": hash_name(sha256_of(one / "releases" / "one-1.0.0" / "SHA256SUMS")),
        "title": "Study one, version 1.0.0 (retracted)",
        "updated": "2026-11-20T00:00:00Z",
        "published": "2026-11-01T00:00:00Z",
        "link": "https://example.org/one/releases/one-1.0.0/index.html",
        "summary": "Retracted: a faulty card",
    }
    assert (second["updated"], second["summary"]) == (
        "2026-11-02T00:00:00Z", "minor: 6 rows of runs new",
    )  # fmt: skip


def test_a_hash_is_named_as_the_standard_s_example_is() -> None:
    """RFC 6920, section 8.1: the name of "Hello World!"."""
    sha256 = "7f83b1657ff1fc53b92dc18148a1d65dfc2d4b1fa3d677284addd200126d9069"
    assert hash_name(sha256) == "ni:///sha-256;f4OxZX_x_FO5LcGBSKHWXfwtSx-j1ncoSt3SABJtkGk"


def test_hostile_texts_are_shown_as_text(make_study: Callable[..., Path], tmp_path: Path) -> None:
    study = make_study("one", HOSTILE.replace("\x0b", ""), "1.0.0", deposited_at="javascript:x()")
    write_site([study], tmp_path / "site", title=HOSTILE)
    page = (tmp_path / "site" / "index.html").read_text(encoding="utf-8")
    links = Links()
    links.feed(page)
    assert "script" not in links.tags
    assert "javascript:x()" not in links.targets
    assert page.count("&lt;script&gt;alert(1)&lt;/script&gt;") >= 4
    assert "\u202e" not in page
    assert "\u202e" not in (tmp_path / "site" / "feed.xml").read_text(encoding="utf-8")
    (entry,) = feed(tmp_path / "site" / "feed.xml")
    assert entry["title"].startswith("<script>alert(1)</script>")


@pytest.mark.slow
def test_hostile_texts_break_no_layout(
    make_study: Callable[..., Path], tmp_path: Path, browser: Browser
) -> None:
    long = HOSTILE.replace("\x0b", "")
    one = make_study("one", long, "1.0.0", "1.1.0", deposited_at="https://example.org/" + "x" * 150)
    write_site([one, make_study("two", "Two", "1.0.0")], tmp_path / "site", title=long)
    page = browser.new_page()
    for width in (360, 1600):
        page.set_viewport_size({"width": width, "height": 900})
        page.goto((tmp_path / "site" / "index.html").as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") == width
        assert page.locator("h1").inner_text().startswith("<script>alert(1)</script>")
    page.close()


def test_the_same_registers_give_the_same_bytes_in_any_order(
    make_study: Callable[..., Path], tmp_path: Path
) -> None:
    one, two = (make_study(name, name.title(), "1.0.0") for name in ("one", "two"))
    hashes = []
    for number, order in enumerate(([one, two], [two, one])):
        write_site(order, tmp_path / f"site-{number}", title="All")
        hashes.append(
            [sha256_of(tmp_path / f"site-{number}" / n) for n in ("index.html", "feed.xml")]
        )
    assert hashes[0] == hashes[1]


def test_what_is_wrong_is_said(make_study: Callable[..., Path], tmp_path: Path) -> None:
    one, none = make_study("one", "One", "1.0.0"), make_study("none", "None")
    with pytest.raises(ReleaseError, match="has no release yet"):
        write_site([one, none], tmp_path / "site", title="All")
    with pytest.raises(ReleaseError, match="same name"):
        write_site([one, one], tmp_path / "site", title="All")
    with pytest.raises(ReleaseError, match="no address"):
        write_site([one], tmp_path / "site", title="All", address="example.org")
    with pytest.raises(StudyError):
        write_site([tmp_path], tmp_path / "site", title="All")
    assert not (tmp_path / "site").exists()


def test_a_release_whose_folder_is_elsewhere_is_listed_without_a_link(
    make_study: Callable[..., Path], tmp_path: Path
) -> None:
    study = make_study("one", "One", "1.0.0")
    (study / "releases").rename(tmp_path / "elsewhere")
    ((shown,),) = (s.releases for s in write_site([study], tmp_path / "site", title="All"))
    assert (shown.link, shown.reasons) == (None, ())
    (entry,) = feed(tmp_path / "site" / "feed.xml")
    assert entry["link"] == "index.html#one"
