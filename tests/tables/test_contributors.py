"""Changes over contributors: which names count as one, what is pooled, and who agrees with whom."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from rigledger.errors import StudyError
from rigledger.statistics.random_effects import next_measured, pool
from rigledger.study.model import Relation
from rigledger.tables.people import first_names

if TYPE_CHECKING:
    from collections.abc import Callable

    from conftest import Ledger

NUDGES = (-0.004, 0.0, 0.003, 0.001, -0.002)


def measure(
    ledger: Ledger, rig: str, change_pct: float, *, workload: str = "dawn", driver: str = "1.0"
) -> None:
    """Five passes of both levels in one session; every pass of `on` has the same change."""
    boot = 1 + sum(held["rig"] == rig for held in ledger.rows["sessions"])
    name = ledger.session(rig, boot, driver=driver)
    spread = 1 + len(rig) % 3 / 10
    for nudge in NUDGES:
        ledger.run(name, workload, "off", round(100 * (1 + spread * nudge), 3))
        drift = 1 + change_pct / 100
        ledger.run(name, workload, "on", round(100 * drift * (1 + spread * nudge * 0.8), 3))


def contributor(ledger: Ledger, name: str, **stated: str) -> None:
    (row,) = (held for held in ledger.rows["contributors"] if held["contributor"] == name)
    row.update(stated)


@pytest.fixture
def three(make_ledger: Callable[..., Ledger]) -> Ledger:
    """Three contributors with the same platform and card, and one with other hardware."""
    ledger = make_ledger()
    for name, change in (("anna", -4.0), ("bo", -5.0), ("cora", -4.5)):
        ledger.rig(f"{name}.one")
        measure(ledger, f"{name}.one", change)
    ledger.rig("dan.old", "slow", "small")
    measure(ledger, "dan.old", -12.0)
    return ledger


def test_names_that_are_tied_to_one_another_are_one_whatever_the_order() -> None:
    names = ["anna", "bo", "cora", "dan", "eve"]
    ties = [("dan", "cora"), ("cora", "bo")]
    expected = {"anna": "anna", "bo": "bo", "cora": "bo", "dan": "bo", "eve": "eve"}
    assert first_names(names, ties) == expected
    assert first_names(names, ties[::-1]) == expected


def test_a_statement_a_key_or_a_unit_tie_two_names_and_the_table_says_why(three: Ledger) -> None:
    contributor(three, "bo", related_to="anna")
    contributor(three, "cora", public_key="ed25519 abc")
    contributor(three, "dan", public_key="ed25519 abc")
    assert three.build().select("from counted_as_one") == [
        ("anna", "anna", 2, "bo", "bo states anna"),
        ("bo", "anna", 2, "anna", "bo states anna"),
        ("cora", "cora", 2, "dan", "same key: cora, dan"),
        ("dan", "cora", 2, "cora", "same key: cora, dan"),
    ]


def declared(ledger: Ledger, contributor: str, counts_with: str) -> None:
    held = Relation(contributor, counts_with, "bench", "one household", dt.date(2026, 11, 20))
    ledger.design = replace(ledger.design, relations=(held,))


def test_the_study_ties_names_on_somebody_elses_behalf_and_says_who_declared_it(
    three: Ledger,
) -> None:
    declared(three, "cora", "anna")
    why = "declared by bench on 2026-11-20: cora, anna (one household)"
    assert three.build().select("from counted_as_one where names > 1") == [
        ("anna", "anna", 2, "cora", why),
        ("cora", "anna", 2, "anna", why),
    ]


def test_a_declared_relation_to_nobody_who_is_here_is_refused_by_name(three: Ledger) -> None:
    declared(three, "cora", "ana")
    with pytest.raises(StudyError) as caught:
        three.build().select("from counted_as_one")
    found = caught.value
    assert ("study.toml", "relations[1].counts_with", "ana") == (
        found.file, found.column, found.value
    )  # fmt: skip
    assert "did you mean 'anna'" in found.message


@pytest.mark.parametrize(
    ("units", "tied"),
    [
        (("SN-4711-A", "SN-4711-A"), "same unit of the card big: anna, bo"),
        (("card-a", "card-a"), None),
        (("SN-4711-A", "SN-4711-B"), None),
        (("unknown", "unknown"), None),
    ],
)
def test_only_a_name_as_long_as_a_serial_number_is_a_unit_beyond_its_owner(
    make_ledger: Callable[..., Ledger], units: tuple[str, str], tied: str | None
) -> None:
    ledger = make_ledger()
    for name, unit in zip(("anna", "bo"), units, strict=True):
        ledger.rig(f"{name}.one", card_unit=unit)
        measure(ledger, f"{name}.one", -4.0)
    assert ledger.build().select("select because from counted_as_one") == [(tied,), (tied,)]


def test_a_relation_to_nobody_who_is_here_ties_nobody(three: Ledger) -> None:
    contributor(three, "bo", related_to="zoe")
    rows = three.build().select("select because from counted_as_one where contributor = 'bo'")
    assert rows == [(None,)]


def test_the_change_is_pooled_over_contributors_and_not_over_other_hardware_unasked(
    three: Ledger,
) -> None:
    rows = three.build().select(
        "select scope, platform, card, contributors, names, rigs, rigs_left_out, counted, "
        "differs_in, not_pooled from pooled_changes"
    )
    assert rows == [
        ("any_hardware", "all", "all", 4, 4, 4, 0, "anna, bo, cora, dan", None, None),
        ("same_configuration", "fast", "big", 3, 3, 3, 0, "anna, bo, cora", None, None),
    ]


def test_the_pooled_numbers_are_those_of_random_effects_on_the_changes(three: Ledger) -> None:
    three.build()
    held = three.select(
        "select ln(1 + change_pct / 100), ln(1 + high_90_pct / 100) - ln(1 + change_pct / 100), "
        "ln(1 + high_95_pct / 100) - ln(1 + change_pct / 100) from comparisons "
        "where card = 'big' order by rig"
    )
    from rigledger.statistics.small_sample import matched_student

    variances, _ = matched_student([row[1] for row in held], [row[2] for row in held])
    expected = pool([row[0] for row in held], variances, never_narrower=True)
    like = next_measured([row[0] for row in held], variances)
    (found,) = three.select(
        "select change_pct, low_95_pct, high_95_pct, like_these_low_95_pct, like_these_high_95_pct "
        "from pooled_changes where scope = 'same_configuration'"
    )
    ends = (expected.mean, expected.lower, expected.upper, *like)
    assert found == pytest.approx([100 * math.expm1(end) for end in ends], rel=1e-9)
    assert found[3] < found[1] < -4.5 < found[2] < found[4]


def test_several_names_of_one_person_count_as_one_in_the_pooling(three: Ledger) -> None:
    contributor(three, "bo", related_to="anna")
    (row,) = three.build().select(
        "select contributors, names, counted, like_these_low_95_pct from pooled_changes "
        "where scope = 'same_configuration'"
    )
    assert row == (2, 3, "anna=bo, cora", None)
    for name in ("anna", "cora"):
        contributor(three, name, public_key="one key")
    query = (
        "select contributors, change_pct, not_pooled from pooled_changes where platform = 'fast'"
    )
    assert three.build().select(query) == [(1, None, "one_contributor")]


def test_a_contributor_with_one_rig_and_one_run_is_left_out_and_counted(three: Ledger) -> None:
    three.rig("eve.one")
    session = three.session("eve.one", 1)
    three.run(session, "dawn", "off", 100)
    three.run(session, "dawn", "on", 60)
    three.build()
    query = "select contributors, rigs, rigs_left_out from pooled_changes where platform = 'fast'"
    assert three.select(query) == [(3, 3, 1)]
    assert three.select("select no_verdict from comparisons where rig = 'eve.one'") == [
        ("one_run",)
    ]
    assert three.select("select count(*) from agreement where 'eve.one' in (rig, against)") == [
        (0,)
    ]


def test_a_change_that_is_known_to_depend_on_hardware_is_not_pooled_over_hardware(
    three: Ledger,
) -> None:
    for platform in ("fast", "slow"):
        for card in ("big", "small"):
            rig = f"eve.{platform}-{card}"
            three.rig(rig, platform, card)
            measure(three, rig, -30.0 if card == "small" else 0.0)
    rows = three.build().select(
        "select change_pct, contributors, not_pooled from pooled_changes "
        "where scope = 'any_hardware'"
    )
    assert rows == [(None, 5, "depends_on_hardware")]


def test_a_metric_that_means_something_else_to_each_contributor_is_not_compared(
    make_ledger: Callable[..., Ledger],
) -> None:
    ledger = make_ledger()
    for name in ("anna", "bo"):
        ledger.rig(f"{name}.one")
        session = ledger.session(f"{name}.one", 1)
        for nudge in NUDGES:
            for level in ("off", "on"):
                ledger.run(session, "dawn", level, 60 * (1 + nudge), metric="low_1pct_unstated_fps")
    ledger.build()
    assert ledger.select("select count(*) from comparisons") == [(2,)]
    assert ledger.select("from pooled_changes") == []
    assert ledger.select("from agreement") == []


def test_below_six_contributors_pairs_are_compared_with_both_uncertainties(three: Ledger) -> None:
    contributor(three, "anna", shown_name="Anna")
    rows = three.build().select(
        "select rig, against, method, contributors, counted_as, stack_family, differs_in, h, k, "
        "robust_z, flagged, round(difference_pct, 1) from agreement"
    )
    family = "O, driver 1, build 1"
    nothing = (None, None, None, False)
    assert rows == [
        ("anna.one", "bo.one", "pairwise", 2, "anna", family, None, *nothing, 1.1),
        ("anna.one", "cora.one", "pairwise", 2, "anna", family, None, *nothing, 0.5),
        ("bo.one", "cora.one", "pairwise", 2, "bo", family, None, *nothing, -0.5),
    ]
    for low, difference, high in three.select(
        "select low_95_pct, difference_pct, high_95_pct from agreement"
    ):
        assert low < difference < high


def test_what_differs_beside_the_hardware_is_listed_and_unknown_always_differs(
    make_ledger: Callable[..., Ledger],
) -> None:
    ledger = make_ledger()
    for name, driver in (("anna", "1.0"), ("bo", "2.0"), ("cora", "unknown"), ("dan", "unknown")):
        ledger.rig(f"{name}.one")
        measure(ledger, f"{name}.one", -4.0, driver=driver)
    rows = ledger.build().select("select distinct stack_family, differs_in from agreement")
    assert rows == [(None, "driver_version")]
    assert ledger.select(
        "select differs_in from pooled_changes where scope = 'same_configuration'"
    ) == [("driver_version",)]


def six(ledger: Ledger, changes: dict[str, float]) -> Ledger:
    for name, change in changes.items():
        ledger.rig(f"{name}.one")
        measure(ledger, f"{name}.one", change)
    return ledger.build()


CHANGES = {"anna": -4.0, "bo": -4.3, "cora": -3.6, "dan": -4.2, "eve": -3.9, "finn": -30.0}


def test_from_six_contributors_up_h_k_and_robust_z_judge_and_pairs_do_not(
    make_ledger: Callable[..., Ledger],
) -> None:
    ledger = six(make_ledger(), CHANGES)
    rows = ledger.select(
        "select rig, method, against, contributors, flagged, h is not null, k is not null "
        "from agreement order by rig"
    )
    assert rows == [
        (f"{name}.one", "interlaboratory", "all", 6, name == "finn", True, True) for name in CHANGES
    ]
    values = [math.log1p(change / 100) for change in CHANGES.values()]
    mean = sum(values) / 6
    sd = (sum((value - mean) ** 2 for value in values) / 5) ** 0.5
    h = [row[0] for row in ledger.select("select h from agreement order by rig")]
    assert h == pytest.approx([(value - mean) / sd for value in values], abs=0.02)
    ((k,),) = ledger.select("select sqrt(sum(k * k) / count(*)) from agreement")
    assert k == pytest.approx(1.0)


def test_six_names_of_five_people_are_compared_in_pairs(
    make_ledger: Callable[..., Ledger],
) -> None:
    ledger = make_ledger()
    six(ledger, CHANGES)
    contributor(ledger, "bo", related_to="anna")
    rows = ledger.build().select("select method, count(*) from agreement group by method")
    assert rows == [("pairwise", 6 * 5 // 2 - 1)]


def test_another_stack_family_is_no_part_of_the_circle(
    make_ledger: Callable[..., Ledger],
) -> None:
    ledger = six(make_ledger(), CHANGES)
    ledger.rig("gwen.one")
    measure(ledger, "gwen.one", -4.0, driver="9.1")
    rows = ledger.build().select(
        "select method, count(*) from agreement group by method order by 1"
    )
    assert rows == [("interlaboratory", 6), ("pairwise", 6)]


def test_the_same_to_the_last_bit_with_one_thread_and_two_and_rows_in_any_order(
    three: Ledger,
) -> None:
    def held() -> list[list[tuple[Any, ...]]]:
        names = ("counted_as_one", "pooled_changes", "agreement")
        return [three.select(f"from {name}") for name in names]

    contributor(three, "bo", related_to="dan")
    three.build(threads=1)
    first = held()
    assert all(first)
    three.build(threads=2, backwards=True)
    assert held() == first
