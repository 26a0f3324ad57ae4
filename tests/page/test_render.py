"""The page of a release: self-contained, honest about its scope, and safe with any text."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest

from rigledger.page import tables
from rigledger.page.answer import Answer, answer_of
from rigledger.page.tables import platform_names
from rigledger.release.meta import Earlier
from rigledger.study.model import Platform

if TYPE_CHECKING:
    from collections.abc import Callable

    from rigledger.release.view import ReleaseView

    PageOf = Callable[[ReleaseView], str]


OWN_SCRIPTS = [
    {"type": "application/ld+json"},
    {"type": "application/json", "id": "data"},
    {},
    {},
]


class Tags(HTMLParser):
    """Collects elements and checks that they close in order."""

    VOID = frozenset({"meta", "link", "br", "img", "hr", "input"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def parsed(page: str) -> Tags:
    tags = Tags()
    tags.feed(page)
    assert tags.open == []
    return tags


def test_the_answer_states_numbers_and_scope(view: ReleaseView) -> None:
    said = (
        "On against off, average frame rate, in 1 comparison on 1 rig and 1 workload: 1 lost more "
        "than 3 % (in Walk), 0 gained more than that, 0 stayed within ±3 %, 0 are not settled. "
        "Changes run from \u221210.0 % to \u221210.0 %. That it depends on platform or card was "
        "not shown."
    )
    assert answer_of(view) == Answer((said,))


def test_the_page_is_whole_and_fetches_nothing(view: ReleaseView, page_of: PageOf) -> None:
    tags = parsed(page_of(view))
    scripts = [attributes for tag, attributes in tags.seen if tag == "script"]
    assert scripts == OWN_SCRIPTS
    for _, attributes in tags.seen:
        assert "src" not in attributes
        assert not re.match(r"[a-z]+:|//", attributes.get("href") or "")
    assert tags.seen[0] == ("html", {"lang": "en"})


def test_every_link_inside_the_page_leads_somewhere(view: ReleaseView, page_of: PageOf) -> None:
    tags = parsed(page_of(view))
    targets = {attributes.get("id") for _, attributes in tags.seen}
    anchors = [
        a["href"] for tag, a in tags.seen if tag == "a" and (a["href"] or "").startswith("#")
    ]
    assert anchors
    assert {(anchor or "")[1:] for anchor in anchors} <= targets


def test_the_page_shows_verdict_citation_hash_and_what_is_not_met(
    view: ReleaseView, page_of: PageOf
) -> None:
    page = page_of(view)
    for text in (
        "loss, material",
        "Somebody (2026): A title (version 1.0.0) [data set].",
        "b" * 64,
        "a" * 64,
    ):
        assert text in page
    assert '<span class="not-met">no</span>' in page


@pytest.fixture(scope="module")
def later_page(
    make_view: Callable[..., ReleaseView],
    page_of: PageOf,
    tmp_path_factory: pytest.TempPathFactory,
) -> str:
    """The page of a second release, in which two contributors count as one."""
    view = make_view(tmp_path_factory.mktemp("later"))
    key = (
        "rig=eva.rig workload=walk resolution=1920x1080 contrast=on-against-off metric=average_fps"
    )
    view.con.execute(
        "INSERT INTO changes VALUES ('sets', 'set_id=eva.one', 'added', NULL, NULL, NULL, NULL),"
        f" ('current_comparisons', '{key}', 'changed', 'change_pct', '-1.0', '-10.0', NULL),"
        f" ('current_comparisons', '{key}', 'changed', 'direction', 'not_shown', 'loss', NULL)"
    )
    view.con.execute("DELETE FROM counted_as_one")
    view.con.execute(
        "INSERT INTO counted_as_one VALUES ('eva', 'eva', 2, 'ida', 'ida states eva'),"
        " ('ida', 'eva', 2, 'eva', 'ida states eva'), ('uwe', 'uwe', 1, NULL, NULL)"
    )
    meta = replace(
        view.meta, previous=Earlier("1.0.0", "c" * 64), version="1.1.0", step="minor",
        reasons=("minor: 1 row of sets new",), left_out={"cards": 1},
    )  # fmt: skip
    return page_of(replace(view, meta=meta))


def test_a_later_release_says_what_changed_in_names(later_page: str) -> None:
    for said in (
        '(<a class="inner" href="#changes">what changed since 1.0.0</a>)',
        "<h3>What came and went</h3>",
        "<li><bdi>Set eva.one by eva is new, with 0 runs.</bdi></li>",
        (
            "<li><bdi>Processor One · Card One (eva.rig), Walk, 1920x1080, on against off, average "
            "frame rate: \u22121.0\u00a0% before, \u221210.0\u00a0% now: direction was not shown, "
            "is loss</bdi></li>"
        ),
        "<summary>Why this is a minor step, and how many rows differ</summary>",
        "<li><bdi>minor: 1 row of sets new</bdi></li>",
        f'Version 1.0.0 has the fingerprint <span class="hash">{"c" * 64}</span>.',
        "1 row of cards.",
    ):
        assert said in later_page


def test_hostile_text_is_shown_as_text(hostile_view: ReleaseView, page_of: PageOf) -> None:
    page = page_of(hostile_view)
    scripts = [attributes for tag, attributes in parsed(page).seen if tag == "script"]
    assert scripts == OWN_SCRIPTS
    assert page.count("&lt;script&gt;") >= 3
    assert "\\u003cscript\\u003e" in page


def test_a_direction_that_is_left_open_turns_nothing_on_the_page(
    hostile_view: ReleaseView, page_of: PageOf
) -> None:
    page = page_of(hostile_view)
    data = page.split('id="data">')[1].split("</script>")[0]
    assert "\u202e" not in page
    assert "\\u202e" not in data
    assert "=cmd|' \ufffd" in data


def test_the_same_release_gives_the_same_page(view: ReleaseView, page_of: PageOf) -> None:
    one = page_of(view)
    assert one == page_of(view)


def test_of_very_many_runs_the_page_lists_the_latest_of_each_cell(
    view: ReleaseView, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = tables.page_data(view)
    assert (whole["runs"]["rows"], "latest_runs" in whole) == (6, False)
    monkeypatch.setattr(tables, "MOST_RUNS", 5)
    bounded = tables.page_data(view)
    assert bounded["latest_runs"] == 2  # five runs over two cells
    assert bounded["runs"]["columns"]["run"] == ["002", "003", "005", "006"]
    assert bounded["runs"]["columns"]["m:average_fps"] == [100.4, 99.7, 90.2, 90.1]
    rest = bounded.keys() - {"runs", "latest_runs"}
    assert {name: bounded[name] for name in rest} == {name: whole[name] for name in rest}


def test_names_that_count_as_one_are_told_with_what_ties_them(later_page: str) -> None:
    assert "<p><bdi>eva, ida</bdi> count as one contributor" in later_page
    assert "(<bdi>ida states eva</bdi>)" in later_page
    assert "<bdi>uwe</bdi> count" not in later_page


@pytest.mark.parametrize(
    ("second", "names"),
    [
        (("Board Two", "Kit Two"), ["One (Board One)", "One (Board Two)"]),
        (("Board One", "Kit Two"), ["One (Kit One)", "One (Kit Two)"]),
    ],
)
def test_platforms_that_share_a_processor_are_told_apart_by_what_differs(
    second: tuple[str, str], names: list[str]
) -> None:
    held = [
        Platform("p1", "family", "One", "Board One", "Kit One"),
        Platform("p2", "family", "One", *second),
        Platform("p3", "family", "Three", "Board One", "Kit One"),
    ]
    assert [one["name"] for one in platform_names(held)] == [*names, "Three"]
