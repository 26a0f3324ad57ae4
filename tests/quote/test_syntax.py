"""A placeholder says what is asked for, of which cell, and how to write it."""

from __future__ import annotations

import pytest

from rigledger.quote.syntax import Asked, Manner, SyntaxProblem, understood


def test_a_word_names_and_manners_are_understood() -> None:
    body = " change rig=a.q3-52\n title='Kippereen Deep' | interval, digits=2 "
    assert understood(body, html=False) == Asked(
        "change",
        names={"rig": "a.q3-52", "title": "Kippereen Deep"},
        manner=Manner(frozenset({"interval"}), 2),
    )


def test_quotes_may_be_entities_in_html() -> None:
    asked = understood("change title=&quot;Kippereen Deep&quot;", html=True)
    assert asked.names == {"title": "Kippereen Deep"}


def test_a_claim_is_named_behind_its_word() -> None:
    assert understood("claim loss | sentence", html=False) == Asked(
        "claim", "loss", manner=Manner(frozenset({"sentence"}))
    )


def test_what_is_allowed_is_divided_by_semicolons() -> None:
    assert understood("allow 24 GB; two of eight ;", html=False).allowed == (
        "24 GB",
        "two of eight",
    )


def test_its_own_manner_counts_over_the_one_stated_for_all() -> None:
    below = Asked("use", names={"metric": "m", "rig": "r"}, manner=Manner(frozenset({"size"}), 2))
    own = Asked("change", names={"rig": "s"}, manner=Manner(frozenset({"signed"})))
    assert own.with_defaults(below) == Asked(
        "change", names={"metric": "m", "rig": "s"}, manner=Manner(frozenset({"signed"}), 2)
    )


@pytest.mark.parametrize(
    ("body", "reason", "step"),
    [
        ("chnage rig=a", "'chnage' is no word of a placeholder", "did you mean 'change'?"),
        ("change rig", "'rig' is not name=value", "write rig=bench.q3-52"),
        ("change rig=a rig=b", "rig is named twice", "name rig once"),
        ("change | intervall", "'intervall' is no manner of writing", "did you mean 'interval'?"),
        ("change title='Two", "a quotation mark has no partner", "write title='Two words'"),
        ("claim", "claim needs a claim's name behind it", "write {@ claim NAME @}"),
        ("allow ;", "allows nothing", "write {@ allow 24 GB; two of eight @}"),
    ],
)
def test_what_is_wrong_comes_with_what_would_be_right(body: str, reason: str, step: str) -> None:
    with pytest.raises(SyntaxProblem) as caught:
        understood(body, html=False)
    assert (caught.value.reason, caught.value.next_step) == (reason, step)
