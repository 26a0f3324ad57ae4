"""Numbers and verdicts read the same everywhere."""

from __future__ import annotations

import pytest

from rigledger.contract import load_contract
from rigledger.counting import counted
from rigledger.page.words import (
    byte_size,
    kind,
    plain_number,
    signed_pct,
    typeset,
    verdict,
    with_names,
)


@pytest.mark.parametrize(
    ("value", "text"),
    [(3.24, "+3.2 %"), (-3.25, "\u22123.2 %"), (0.0, "0.0 %"), (-0.04, "0.0 %"), (None, "–")],
)
def test_a_change_has_a_sign_unless_it_rounds_to_nothing(value: float | None, text: str) -> None:
    assert signed_pct(value) == text


@pytest.mark.parametrize(
    ("value", "text"), [(1234.5, "1234"), (123.45, "123.5"), (12.345, "12.35"), (None, "–")]
)
def test_a_value_has_the_digits_that_a_reader_compares(value: float | None, text: str) -> None:
    assert plain_number(value) == text


def test_every_verdict_of_the_contract_has_its_words() -> None:
    terms = load_contract().vocabularies
    for reason, words in terms["no_verdict"].terms.items():
        assert verdict("gain", "material", reason) == f"no verdict: {words}"
    for direction in terms["change_direction"].terms:
        for size in terms["change_size"].terms:
            assert verdict(direction, size, None)


def test_counts_agree_with_their_nouns() -> None:
    assert [counted(n, "rig") for n in (0, 1, 2)] == ["0 rigs", "1 rig", "2 rigs"]
    assert counted(2, "series", "series") == "2 series"


def test_names_replace_ids_that_stand_alone_in_a_list() -> None:
    names = {"walk": "Walk", "on-off": "on against off"}
    assert with_names("walk, on-off, x: a walk. Before: walk, on-off", names) == (
        "Walk, on against off, x: a walk. Before: Walk, on against off"
    )
    assert with_names("nothing known", names) == "nothing known"


def test_a_number_keeps_its_sign_and_its_per_cent_sign() -> None:
    assert typeset("-2.1 % (-3.0 to 4 %), driver 7-40, 2026-11-05") == (
        "\u22122.1\u00a0% (\u22123.0 to 4\u00a0%), driver 7-40, 2026-11-05"
    )
    assert typeset("from -2 to -1") == "from \u22122 to \u22121"


@pytest.mark.parametrize(
    ("found", "mark"),
    [
        (("gain", "material", None), "gain"),
        (("loss", "unsettled", None), "loss_open"),
        (("loss", "immaterial", None), "within"),
        (("not_shown", "unsettled", None), "open"),
        ((None, None, "one_run"), "none"),
    ],
)
def test_each_verdict_has_its_mark(found: tuple[str | None, ...], mark: str) -> None:
    direction, size, reason = found
    assert kind(direction, size, reason) == mark


def test_sizes_are_read_at_a_glance() -> None:
    assert [byte_size(n) for n in (999, 29990, 1_234_567)] == ["999 B", "30 kB", "1.2 MB"]
