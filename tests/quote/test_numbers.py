"""Every number is found; those that are no figure are told apart by rule, not by luck."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from rigledger.quote.markup import CODE, PROSE, is_numeric, kinds_of
from rigledger.quote.numbers import numbers_of

NAMES = ("Thrumgate 88", "Brankelo 52", "x16", "1920x1080")


def found(text: str, *, html: bool = False, allowed: tuple[str, ...] = ()) -> dict[str, list[str]]:
    kinds = kinds_of(text, html=html)
    held: dict[str, list[str]] = {}
    for number in numbers_of(text, kinds, NAMES, allowed):
        held.setdefault(number.kind, []).append(number.text)
    return held


@pytest.mark.parametrize(
    ("text", "stray"),
    [
        ("It is 12 % slower.", "12 %"),
        ("It is 12% slower.", "12%"),
        ("from 63.3 to 56", "63.3|56"),
        ("1,024 runs", "1,024"),
        ("−11.6 %", "−11.6 %"),
        ("half a per cent: ½ %", "½ %"),
        ("full-width １２ fps", "１２ fps"),
        ("5x as much, x5", "5x|x5"),
        ("driver 7.5 % slower", "7.5 %"),
        ("table 12 % slower", "12 %"),
        ("it may 5 more", "5"),
        ("2026 fps in 2026 frames", "2026 fps|2026"),
        ("twice the rate, ten per cent less, a third", "twice|ten per cent|a third"),
        ("Thrumgate 89", "89"),
        ("## 12 % slower", "12 %"),
        ("## 1.5 times", "1.5 times"),
        ("slower by\n12. Next", "12"),
        ("[12 % more](x.html)", "12 %"),
        ("![12 % less](x.png)", "12 %"),
        ("a <y 12 % b> c", "12 %"),
        ("an open ` tick 12 % and no other", "12 %"),
        ("    indented after text 12 %".replace("    ", "text\n    "), "12 %"),
    ],
)
def test_a_number_that_no_placeholder_made_is_pointed_out(text: str, stray: str) -> None:
    assert "|".join(found(text).get(PROSE, [])) == stray


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("On 2026-11-20 and 20 November 2026, in 2026.", "date"),
        ("© 2026 and May 3", "date"),
        ("driver 7.31, build 0.9.44, version 2, v3", "version"),
        ("Thrumgate 88 with the Brankelo\n52 at 1920x1080 and x16", "name"),
        ("see figure 3, table 2.1 and section 4", "reference"),
        ("its 1% low, the 0.1 % lows, a 95 % interval", "metric"),
        ("`x 12 %` and ``a ` 3``", "code"),
        ("```\n12 % \n```\n", "code"),
        ("text\n\n    12 %\n", "code"),
        ("[a](x12.html) <https://a.example/1> https://a.example/2", "link"),
        ("[a]: x12.html\n", "link"),
        ("<!-- 12 % -->", "comment"),
        ('<img width="12">', "markup"),
        ("# 3. Results\n## 3.1 Speed\n", "heading number"),
        ("1. one\n2. two\n", "list marker"),
        ("as said[^1] and [2]", "note mark"),
    ],
)
def test_a_number_of_a_kind_that_is_no_figure_may_stand(text: str, kind: str) -> None:
    assert set(found(text)) == {kind}


@pytest.mark.parametrize(
    ("text", "stray"),
    [
        ('<p title="12 %">a</p>', "12 %"),
        ('<img width="12" alt="13 % slower">', "13 %"),
        ('<meta name="description" content="14 % slower">', "14 %"),
        ("<p>&#49;&#50; % and &half;</p>", "&#49;&#50;|&half;"),
        ("<pre>12</pre><code>13</code><script>14</script>15", "15"),
        ("<h2>3. Results</h2><h2>4 % slower</h2>", "4 %"),
        ("<p>12&nbsp;%</p>", "12&nbsp;%"),
    ],
)
def test_html_is_read_as_people_read_it(text: str, stray: str) -> None:
    assert "|".join(found(text, html=True).get(PROSE, [])) == stray


def test_the_draft_may_allow_a_number_by_its_words() -> None:
    held = found("24 GB and 24 titles, two thirds", allowed=("24 GB", "two thirds"))
    assert held == {"allowed": ["24"], PROSE: ["24"]}


@given(st.text(st.sampled_from("ab 12.,%-–x\n\r\n()[]<>`&;#*_\"'½²")), st.booleans())
def test_no_number_passes_unseen(text: str, html: bool) -> None:
    numbers = numbers_of(text, kinds_of(text, html=html), NAMES, ())
    places = [place for place, character in enumerate(text) if is_numeric(character)]
    starts = {number.start for number in numbers}
    unseen = [
        place for place in places
        if place not in starts and not is_numeric_before(text, place)
    ]  # fmt: skip
    assert unseen == []


def is_numeric_before(text: str, place: int) -> bool:
    """Whether a digit hangs on an earlier one, with no blank between them."""
    start = place
    while start and not text[start - 1].isspace() and text[start - 1] not in "()[]<>`;*_\"'":
        start -= 1
        if is_numeric(text[start]):
            return True
    return False


@pytest.mark.parametrize(
    "text",
    [
        "`foo1`", "`` foo2 ` bar3 ``", "` `` `4", "`foo5\\`bar6`", "`foo`` 7", "```\n<8\n >9\n```",
        "~~~\n10\n```\n~~~", "``\nfoo11\n``", "````\n12\n```\n``````", "> ```\n> 13\n\n14",
        "- a\n\n      15\n", "1.  a16\n\n        17\n", "- foo\n  18", "a\n    19", "`20\n\n21`",
    ],
)  # fmt: skip
def test_code_is_what_commonmark_renders_as_code(text: str) -> None:
    """In the manner of the examples of CommonMark 0.31.2, 4.4, 4.5 and 6.1; the parser renders."""
    rendered = MarkdownIt("commonmark").render(text)
    expected = re.findall(r"\d+", "".join(re.findall(r"<code.*?</code>", rendered, re.DOTALL)))
    kinds = kinds_of(text, html=False)
    held = [
        match[0] for match in re.finditer(r"\d+", text) if kinds[match.start()] == CODE
    ]  # fmt: skip
    assert held == expected
