"""What is offered instead of a sentence that doesn't hold: a narrower one, or the true figure."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from rigledger.claims.judge import judge
from rigledger.claims.model import Claim, Scope
from rigledger.claims.printed import understood
from rigledger.claims.rectangles import clean_scopes
from rigledger.claims.wording import words_of
from rigledger.contract import load_contract

if TYPE_CHECKING:
    from conftest import Bench
    from rigledger.claims.model import Judged
    from rigledger.claims.wording import Wording
    from rigledger.study.model import Design


@pytest.fixture(scope="session")
def words(design: Design) -> Wording:
    return words_of(design, load_contract())


def stated(quantity: str, text: str | None = None) -> Claim:
    printed = understood(text) if text else None
    return Claim("c", "Said so.", quantity, printed=printed, acknowledged=True, reason="r")  # type: ignore[arg-type]


def offer(bench: Bench, claim: Claim, words: Wording) -> Judged:
    judged = judge(claim, bench.evidence(), words)
    if judged.offered is not None:
        again = judge(judged.offered, bench.evidence())
        assert (again.verdict, judged.offered.acknowledged) == ("holds", False)
    return judged


def test_a_sentence_that_holds_is_left_alone(bench: Bench, words: Wording) -> None:
    bench.change(-12.3)
    assert offer(bench, stated("change", "12 % slower"), words).narrowest is None


def test_a_change_of_some_rigs_is_offered_with_their_models(bench: Bench, words: Wording) -> None:
    bench.cross({"p1-cp1": -12.3, "p1-cp2": 0.1, "p2-cp1": -11.9, "p2-cp2": 0.2})
    judged = offer(bench, stated("change", "12 % slower"), words)
    assert judged.narrowest == (
        "With wide instead of narrow each metric is 12 % lower with Card p1."
    )
    assert judged.offered is not None
    assert judged.offered.scope == Scope((("card", ("cp1",)),))


def test_the_true_figure_is_offered_where_all_cells_say_another(
    bench: Bench, words: Wording
) -> None:
    bench.cross({"p1-cp1": -7.1, "p2-cp1": -6.8})
    judged = offer(bench, stated("change", "12 % slower"), words)
    assert judged.narrowest == "With wide instead of narrow each metric is 7 % lower."


def test_no_difference_is_offered_for_the_titles_without_one(bench: Bench, words: Wording) -> None:
    bench.cross({"p1-cp1": -7.1, "p2-cp1": 0.3})
    bench.cross({"p1-cp1": 0.1, "p2-cp1": 0.3}, workload="mist")
    bench.cross({"p1-cp1": -0.4, "p2-cp1": 0.2}, workload="rain")
    judged = offer(bench, stated("no_difference"), words)
    assert judged.narrowest == (
        "With wide instead of narrow each metric changes by no more than 3 % in Mist and Rain."
    )


def test_up_to_is_offered_for_the_rig_on_which_it_is(bench: Bench, words: Wording) -> None:
    bench.cross({"p1-cp1": -12.2, "p2-cp1": 0.3})
    judged = offer(bench, stated("largest_change", "up to 12 % slower"), words)
    assert judged.narrowest == (
        "With wide instead of narrow each metric is up to 12 % lower on Processor p1."
    )


def test_up_to_is_offered_without_the_title_that_is_too_noisy(bench: Bench, words: Wording) -> None:
    bench.change(-12.2)
    bench.change(1.0, half=30.0, workload="mist")
    judged = offer(bench, stated("largest_change", "up to 12 % slower"), words)
    assert judged.narrowest == (
        "With wide instead of narrow each metric is up to 12 % lower in Dawn."
    )


def test_a_scope_names_what_else_this_contrast_was_never_measured_on(
    bench: Bench, words: Wording
) -> None:
    bench.change(-12.2, card="cp1")
    bench.change(0.2, card="cp2", contrast="other")
    claim = replace(stated("change", "9 % slower"), scope=Scope((("contrast", ("on-off",)),)))
    judged = offer(bench, claim, words)
    assert judged.narrowest == (
        "With wide instead of narrow each metric is 12 % lower with Card cp1."
    ).replace("Card cp1", "Card p1")


def test_a_ranking_is_offered_without_the_rig_that_is_not_settled(
    bench: Bench, words: Wording
) -> None:
    bench.between("anna.a", "anna.b", -8.0)
    bench.between("anna.b", "anna.c", -0.2)
    bench.between("anna.a", "anna.c", -8.2)
    order = ("anna.a", "anna.b", "anna.c")
    judged = offer(bench, replace(stated("ranking"), order=order, ranked_by="value"), words)
    assert judged.offered is not None
    assert judged.offered.order == ("anna.a", "anna.b")


def test_nothing_is_offered_where_nothing_is_known(bench: Bench, words: Wording) -> None:
    bench.change(-12.2, half=40.0)
    assert offer(bench, stated("change", "12 % slower"), words).narrowest is None


def test_among_many_cells_one_that_agrees_by_chance_is_not_offered(
    bench: Bench, words: Wording
) -> None:
    # Nine rigs at -6.6 and a tenth at -9.2, each +- 2: alone, the tenth would pass for 10 %.
    for number in range(9):
        bench.change(-6.6, half=2.0, platform=f"p{number}")
    bench.change(-9.2, half=2.0, platform="p9")
    alone = replace(stated("change", "10 % slower"), scope=Scope((("platform", ("p9",)),)))
    assert judge(alone, bench.evidence()).verdict == "holds"
    judged = offer(bench, stated("change", "10 % slower"), words)
    assert judged.verdict == "broader_than_the_data"
    assert judged.offered is None or judged.offered.scope.of("platform") != ("p9",)


def test_scopes_hold_what_is_true_and_nothing_that_is_false() -> None:
    def row(title: str, card: str) -> dict[str, str]:
        return {"workload": title, "card": card}

    true_of = [row("dawn", "big"), row("dawn", "small"), row("mist", "big")]
    false_of = [row("mist", "small"), row("rain", "big"), row("rain", "small")]
    scopes = clean_scopes(Scope(), true_of, (), false_of)
    assert scopes[0] == Scope((("workload", ("dawn",)),))
    for scope in scopes:
        named = dict(scope.named)
        assert not any(all(held[key] in named[key] for key in named) for held in false_of)  # type: ignore[literal-required]
