"""Proposed sentences: ready entries, the most important first, each of which holds."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

import pytest

from rigledger.claims.judge import judge_all
from rigledger.claims.read import claims_of
from rigledger.claims.show import suggested_lines
from rigledger.claims.suggest import suggest
from rigledger.claims.wording import words_of
from rigledger.contract import load_contract
from rigledger.study.section import Section

if TYPE_CHECKING:
    from conftest import Bench
    from rigledger.claims.wording import Wording
    from rigledger.study.model import Design


@pytest.fixture(scope="session")
def words(design: Design) -> Wording:
    return words_of(design, load_contract())


@pytest.fixture
def filled(bench: Bench) -> Bench:
    bench.cross({"p1-cp1": -12.3, "p1-cp2": 0.1, "p2-cp1": -11.9, "p2-cp2": 0.2})
    bench.cross({"p1-cp1": 5.8, "p1-cp2": 6.2, "p2-cp1": 6.4, "p2-cp2": 6.1}, workload="mist")
    bench.cross({"p1-cp1": 0.1, "p1-cp2": 0.2, "p2-cp1": 0.4, "p2-cp2": -0.1}, workload="rain")
    bench.factor("card", depends=True, p=1e-9, q=1e-8, extent_pct=12.2)
    bench.factor("platform")
    bench.mean(-3.4)
    bench.between("anna.p1-cp1", "anna.p2-cp1", -5.0)
    bench.between("anna.p1-cp1", "anna.p1-cp2", -9.0)
    bench.between("anna.p2-cp1", "anna.p1-cp2", -4.2)
    return bench


def test_the_largest_material_changes_come_first_each_with_its_scope(
    filled: Bench, words: Wording
) -> None:
    found = suggest(filled.evidence(), words, metrics=["average_fps"])
    assert [(one.claim.claim, one.claim.sentence) for one in found] == [
        (
            "change-dawn-on-off-average-fps",
            "With wide instead of narrow average frame rate is 12 % lower in Dawn with Card p1.",
        ),
        (
            "change-mist-on-off-average-fps",
            "With wide instead of narrow average frame rate is 6 % higher in Mist.",
        ),
        (
            "geometric-mean-change-on-off-average-fps",
            (
                "With wide instead of narrow average frame rate is 3 % lower (geometric mean) over "
                "the titles of both."
            ),
        ),
        (
            "depends-on-card-dawn-on-off-average-fps",
            (
                "With wide instead of narrow the change of average frame rate depends on the card "
                "in Dawn."
            ),
        ),
        (
            "no-difference-rain-on-off-average-fps",
            "With wide instead of narrow average frame rate changes by no more than 3 % in Rain.",
        ),
        (
            "no-difference-dawn-on-off-average-fps",
            (
                "With wide instead of narrow average frame rate changes by no more than 3 % in "
                "Dawn with Card p2."
            ),
        ),
        (
            "ranking-average-fps",
            (
                "By average frame rate with narrow, the best first, anna.p1-cp1, anna.p2-cp1, "
                "anna.p1-cp2 on the rigs of anna at 1920x1080."
            ),
        ),
    ]


def test_what_is_proposed_can_be_pasted_and_holds(
    filled: Bench, words: Wording, design: Design
) -> None:
    found = suggest(filled.evidence(), words)
    text = "\n".join(suggested_lines(found))
    pasted = claims_of(Section("claims.toml", "", tomllib.loads(text)), design)
    assert pasted == tuple(one.claim for one in found)
    verdicts = {one.verdict for one in judge_all(pasted, filled.evidence())}
    assert verdicts == {"holds"}


def test_names_that_are_taken_are_not_used_again(filled: Bench, words: Wording) -> None:
    taken = ["change-dawn-on-off-average-fps"]
    found = suggest(filled.evidence(), words, taken=taken)
    assert found[0].claim.claim == "change-dawn-on-off-average-fps-2"


def test_noise_alone_proposes_no_change(bench: Bench, words: Wording) -> None:
    bench.cross({"p1-cp1": 2.0, "p2-cp1": -1.5, "p1-cp2": 0.4}, half=4.0)
    assert suggest(bench.evidence(), words) == ()
