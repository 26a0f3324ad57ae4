"""Means over titles, differences between rigs, spread of rigs, and what changes depend on."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from conftest import Ledger

VALUES = Path(__file__).parents[1] / "published" / "values"
WORKLOAD = """
[[workloads]]
workload = "{name}"
title = "T {name}"
kind = "scene"
preset = "high"
graphics_api = "G 1"
passage = "start to end"
passage_length_s = 60
"""
OFF = [100.0, 101.0, 99.5]
ON = [110.0, 111.5, 109.0]


def published(name: str) -> dict[str, Any]:
    held: dict[str, Any] = tomllib.loads((VALUES / f"{name}.toml").read_text(encoding="utf-8"))
    return held


@pytest.fixture
def five_titles(make_ledger: Callable[..., Ledger]) -> Ledger:
    """Fleming and Wallace's times: on R `off` of rig one, on M its `on`, on Z `on` of rig two."""
    names = [f"title-{n}" for n in range(1, 6)]
    listed = '", "'.join(names)
    ledger = make_ledger(
        "".join(WORKLOAD.format(name=name) for name in names)
        + f'\n[[title_sets]]\ntitle_set = "five"\nworkloads = ["{listed}"]\n'
    )
    ledger.rig("anna.one")
    ledger.rig("anna.two", platform="slow")
    sessions = [ledger.session(rig, 1) for rig in ("anna.one", "anna.two")]
    times = published("fleming-wallace-geometric-mean")["inputs"]["times_R_M_Z"]
    for name, (on_r, on_m, on_z) in zip(names, times, strict=True):
        ledger.cell(sessions[0], name, "off", [on_r / 10] * 3)
        ledger.cell(sessions[0], name, "on", [on_m / 10] * 3)
        ledger.cell(sessions[1], name, "on", [on_z / 10] * 3)
    return ledger


def test_the_overall_change_is_the_published_geometric_mean(five_titles: Ledger) -> None:
    """Fleming and Wallace (1986), Commun ACM 29(3):218-221, values/fleming-wallace-*.toml."""
    expected = published("fleming-wallace-geometric-mean")["expected"]
    found = five_titles.build().select("""
        select round(1 + change_pct / 100, 2), titles, titles_missing, stacks, titles_used
        from overall
    """)
    names = "title-1 title-2 title-3 title-4 title-5"
    assert [(float(expected["geometric_mean_of_M_over_R"]), 5, 0, 1, names)] == found


def test_the_mean_over_shared_titles_of_two_rigs_is_the_published_one(five_titles: Ledger) -> None:
    expected = published("fleming-wallace-geometric-mean")["expected"]
    found = five_titles.build().select("""
        select from_rig, to_rig, level, titles, round(1 + difference_pct / 100, 2)
        from rig_comparisons where workload = 'all-shared'
    """)
    ratio = float(expected["geometric_mean_of_Z_over_M"])
    assert [("anna.one", "anna.two", "on", 5, ratio)] == found


def test_one_title_says_nothing_about_titles_like_it(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    ledger.cell(session, "dawn", "off", OFF)
    ledger.cell(session, "dawn", "on", ON)
    found = ledger.build().select("""
        select titles, titles_missing, these_low_95_pct = low_95_pct,
            like_these_low_95_pct, like_these_high_95_pct
        from overall join comparisons using (rig, resolution, contrast, metric)
    """)
    assert [(1, 2, None, None)] == [(*row[:2], *row[3:]) for row in found]
    ends = five_digits(ledger, "these_low_95_pct, these_high_95_pct from overall")
    assert ends == five_digits(ledger, "low_95_pct, high_95_pct from comparisons")


def five_digits(ledger: Ledger, query: str) -> list[float]:
    return [round(number, 5) for number in ledger.select(f"select {query}")[0]]


def halves(ledger: Ledger, table: str) -> list[float]:
    """Half-widths of the 95 % intervals on the ln scale."""
    low, high = (
        ("these_low_95_pct", "these_high_95_pct")
        if table == "overall"
        else ("low_95_pct", "high_95_pct")
    )
    rows = ledger.select(f"select ln((100 + {high}) / (100 + {low})) / 2 from {table}")
    return [row[0] for row in rows]


def test_a_boot_that_holds_one_level_of_all_titles_does_not_average_out(ledger: Ledger) -> None:
    """The declared half per cent of either boot is in the mean of three titles as in each."""
    for boot, level in enumerate(("off", "on"), start=1):
        session = ledger.session("anna.one", boot)
        for workload in ("dawn", "mist", "rain"):
            ledger.cell(session, workload, level, [100.0, 100.2, 99.9])
    mean = halves(ledger.build(), "overall")[0]
    assert 1.96 * np.hypot(0.005, 0.005) < mean < min(halves(ledger, "comparisons"))


def test_titles_measured_in_boots_of_their_own_do_average_out(ledger: Ledger) -> None:
    for number, workload in enumerate(("dawn", "mist", "rain")):
        for boot, level in enumerate(("off", "on"), start=1):
            session = ledger.session("anna.one", 2 * number + boot)
            ledger.cell(session, workload, level, [100.0, 100.2, 99.9])
    mean = halves(ledger.build(), "overall")[0]
    assert mean < 0.65 * min(halves(ledger, "comparisons"))


def test_titles_like_these_are_never_better_known_than_these(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    for workload in ("dawn", "mist", "rain"):
        ledger.cell(session, workload, "off", OFF)
        ledger.cell(session, workload, "on", ON)
    found = ledger.build().select("""
        select like_these_low_95_pct <= these_low_95_pct,
            like_these_high_95_pct >= these_high_95_pct
        from overall
    """)
    assert [(True, True)] == found


def test_overall_takes_the_current_row_of_each_title_and_counts_the_stacks(ledger: Ledger) -> None:
    for boot, (driver, workloads) in enumerate(
        [("1.0", ("dawn", "mist")), ("2.0", ("dawn",))], start=1
    ):
        session = ledger.session("anna.one", boot, driver=driver)
        for workload in workloads:
            ledger.cell(session, workload, "off", OFF)
            ledger.cell(session, workload, "on", [value + 10 * boot for value in ON])
    found = ledger.build().select(
        "select titles, titles_missing, stacks, round(change_pct, 2) from overall"
    )
    dawn, mist = np.mean(np.log([130.0, 131.5, 129.0])), np.mean(np.log([120.0, 121.5, 119.0]))
    mean = (dawn + mist) / 2 - np.mean(np.log(OFF))
    assert found == [(2, 1, 2, round(100 * float(np.expm1(mean)), 2))]


def test_rigs_are_compared_on_shared_titles_of_one_contributor_only(ledger: Ledger) -> None:
    ledger.rig("anna.two", platform="slow")
    ledger.rig("bea.one")
    sessions = {rig: ledger.session(rig, 1) for rig in ("anna.one", "bea.one")}
    sessions["anna.two"] = ledger.session("anna.two", 1, driver="2.0")
    for rig, factor in (("anna.one", 1.0), ("anna.two", 1.1), ("bea.one", 2.0)):
        values = [value * factor for value in OFF]
        build = "2" if rig == "anna.two" else "1"
        ledger.cell(sessions[rig], "dawn", "off", values, title_build=build)
        if rig != "anna.two":
            ledger.cell(sessions[rig], "mist", "off", values)
    found = ledger.build().select("""
        select from_rig, to_rig, workload, titles, round(difference_pct, 9), session_basis,
            differs_in
        from rig_comparisons
    """)
    differing = "driver_version, title_build"
    assert found == [
        ("anna.one", "anna.two", "all-shared", 1, 10.0, "declared", differing),
        ("anna.one", "anna.two", "dawn", 1, 10.0, "declared", differing),
    ]
    # Different boots: the declared half per cent of each enters, however well the runs agree.
    ((half,),) = ledger.select(
        "select (high_95_pct - low_95_pct) / 2.2 from rig_comparisons limit 1"
    )
    assert half > 1.96 * np.hypot(0.5, 0.5)


def test_run_and_session_spread_are_those_of_the_analysis_of_variance(ledger: Ledger) -> None:
    """Dyestuff, Davies and Goldsmith (1972), values/variance-components-dyestuff.toml.

    Six batches of five are six sessions of five runs; yields enter as exp(yield / 1000).
    """
    held = published("variance-components-dyestuff")
    for boot, batch in enumerate(held["inputs"]["groups"], start=1):
        session = ledger.session("anna.one", boot)
        ledger.cell(session, "dawn", "off", [float(np.exp(y / 1000)) for y in batch])
    found = ledger.build().select("""
        select cells, runs, sessions, run_spread_pct, session_spread_pct from repeatability
    """)
    expected = held["expected"]
    run, session_ = (
        float(np.sqrt(float(expected[name]))) / 10 for name in ("ms_within", "between_reml")
    )
    assert found == [(1, 30, 6, pytest.approx(run, rel=1e-12), pytest.approx(session_, rel=1e-7))]


def test_repeatability_counts_sentinels_too(ledger: Ledger) -> None:
    for boot in (1, 2):
        session = ledger.session("anna.one", boot)
        for level in ("off", "on"):
            ledger.cell(session, "idle", level, [100.0 + boot], role="sentinel")
    found = ledger.build().select("""
        select workload, cells, runs, sessions, run_spread_pct, round(session_spread_pct, 6)
        from repeatability
    """)
    apart = round(100 * float(np.log(102 / 101)) / 2**0.5, 6)
    assert found == [("idle", 1, 4, 2, 0.0, apart)]


def cross(ledger: Ledger, planted: float) -> None:
    """Two platforms and two cards; the change is larger on the slow one with the small card."""
    for platform in ("fast", "slow"):
        for card in ("big", "small"):
            rig = f"anna.{platform}-{card}"
            ledger.rig(rig, platform, card)
            session = ledger.session(rig, 1)
            apart = planted if (platform, card) == ("slow", "small") else 1.0
            for workload in ("dawn", "mist"):
                factor = apart if workload == "dawn" else 1.0
                ledger.cell(session, workload, "off", OFF)
                ledger.cell(session, workload, "on", [value * factor for value in ON])


def test_a_planted_crossing_is_found_and_an_even_change_depends_on_nothing(
    make_ledger: Callable[..., Ledger],
) -> None:
    ledger = make_ledger()
    cross(ledger, 1.3)
    found = ledger.build().select("""
        select workload, factor, rigs, platforms, cards, depends, "where", not_estimable
        from factor_effects
    """)
    assert [(4, 2, 2, None)] * 6 == [(*row[2:5], row[7]) for row in found]
    by_factor = {(row[0], row[1]): row[5:7] for row in found}
    assert by_factor["dawn", "platform_card"][0] is True
    assert "slow with small" in by_factor["dawn", "platform_card"][1]
    assert {(False, None)} == {held for (title, _), held in by_factor.items() if title == "mist"}


def test_rigs_that_form_no_cross_say_why_nothing_can_be_told(ledger: Ledger) -> None:
    ledger.rig("anna.two", platform="slow", card="small")
    for rig in ("anna.one", "anna.two"):
        session = ledger.session(rig, 1)
        ledger.cell(session, "dawn", "off", OFF)
        ledger.cell(session, "dawn", "on", ON)
    found = ledger.build().select("select factor, p, depends, not_estimable from factor_effects")
    assert found == [
        (factor, None, False, "not_a_full_cross")
        for factor in ("card", "platform", "platform_card")
    ]


def test_what_is_shown_by_chance_among_many_titles_is_no_dependence(
    make_ledger: Callable[..., Ledger],
) -> None:
    """Thirty titles on which nothing depends: some p lie below 0.05, q says that none counts."""
    names = [f"t{n}" for n in range(30)]
    ledger = make_ledger("".join(WORKLOAD.format(name=name) for name in names))
    rng = np.random.default_rng(3)
    for platform in ("fast", "slow"):
        for card in ("big", "small"):
            ledger.rig(f"anna.{platform}-{card}", platform, card)
            session = ledger.session(f"anna.{platform}-{card}", 1)
            for name in names:
                for level in ("off", "on"):
                    values = (100 * np.exp(0.03 * rng.normal(size=3))).round(2)
                    ledger.cell(session, name, level, [float(value) for value in values])
    found = ledger.build().select("""
        select count(*), count(*) filter (p < 0.05 and extent_pct > 3) > 0,
            count(*) filter (depends), count(*) filter (q is null or q < p)
        from factor_effects
    """)
    assert [(90, True, 0, 0)] == found


def test_two_rigs_differ_by_what_their_boots_change_however_many_titles_they_share(
    ledger: Ledger,
) -> None:
    """Half a per cent is declared; nothing tells that titles move apart: it never averages out."""
    ledger.rig("anna.two", platform="slow")
    for rig in ("anna.one", "anna.two"):
        session = ledger.session(rig, 1)
        for workload in ("dawn", "mist", "rain"):
            ledger.cell(session, workload, "off", [100.0, 100.1, 99.9])
    ledger.build()
    mean, *titles = halves(ledger, "rig_comparisons")
    assert 1.96 * np.hypot(0.005, 0.005) < mean < min(titles)
