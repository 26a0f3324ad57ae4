"""Each kind of claim: held, contradicted, too broad, not settled, and about nothing measured."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import stats

from rigledger.claims.found import discovered
from rigledger.claims.judge import judge
from rigledger.claims.model import CellKey, Claim, Scope
from rigledger.claims.points import change_points
from rigledger.claims.printed import understood

if TYPE_CHECKING:
    from conftest import Bench
    from rigledger.claims.model import Dimension, Judged


def scope(**names: str) -> Scope:
    held = Scope()
    for dimension, name in names.items():
        key: Dimension = dimension  # type: ignore[assignment]
        held = held.narrowed(key, tuple(name.split()))
    return held


def claim(quantity: str, text: str | None = None, **names: str) -> Claim:
    printed = understood(text) if text else None
    return Claim("c", "Said so.", quantity, scope(**names), printed)  # type: ignore[arg-type]


def said(bench: Bench, held: Claim) -> tuple[str, str]:
    judged = judge(held, bench.evidence())
    return judged.verdict, judged.finding


RIGS = {"p1-c1": -12.2, "p1-c2": -11.8, "p2-c1": -12.4, "p2-c2": -11.9}


def test_a_change_holds_where_the_interval_overlaps_what_is_printed_and_is_narrow(
    bench: Bench,
) -> None:
    bench.change(-12.3)
    judged = judge(claim("change", "12 % slower"), bench.evidence())
    assert ("holds", "borne_out") == (judged.verdict, judged.finding)
    assert judged.value == pytest.approx(-12.3)
    assert (judged.low, judged.high) == (
        pytest.approx(-13.3, abs=0.05),
        pytest.approx(-11.3, abs=0.05),
    )
    assert judged.cells == (
        CellKey("anna.p1-c1", "s", "dawn", "1", "1920x1080", "on-off", "average_fps"),
    )


def test_a_change_fails_with_the_true_figure_where_the_interval_excludes_it(bench: Bench) -> None:
    bench.change(-7.0)
    judged = judge(claim("change", "12 % slower"), bench.evidence())
    assert ("fails", "other_figure") == (judged.verdict, judged.finding)
    assert judged.value == pytest.approx(-7.0)
    assert judged.because == "its interval excludes -12.5 to -11.5 %, which is what is printed so"


def test_a_change_of_the_other_sign_fails(bench: Bench) -> None:
    bench.change(-7.0)
    assert ("fails", "other_figure") == said(bench, claim("change", "7 % faster"))


def test_a_change_is_not_settled_where_the_interval_is_wide(bench: Bench) -> None:
    bench.change(-12.3, half=6.0)
    assert ("not_settled", "too_wide") == said(bench, claim("change", "12 % slower"))


def test_a_change_of_none_holds_near_zero(bench: Bench) -> None:
    bench.change(0.1)
    assert ("holds", "borne_out") == said(bench, claim("change", "0 %"))


def test_a_change_has_to_be_true_of_every_cell(bench: Bench) -> None:
    bench.cross(RIGS)
    assert ("holds", "borne_out") == said(bench, claim("change", "12 % slower"))


def test_a_change_that_is_true_on_some_rigs_only_is_too_broad(bench: Bench) -> None:
    bench.cross(RIGS | {"p2-c2": 0.0})
    assert ("broader_than_the_data", "cells_disagree") == said(
        bench, claim("change", "12 % slower")
    )


def test_a_change_is_too_broad_where_the_rigs_depend_on_what_it_leaves_out(bench: Bench) -> None:
    bench.cross(RIGS, half=2.0)
    bench.factor("platform", depends=True, p=1e-6, q=1e-6, extent_pct=4.0)
    assert ("broader_than_the_data", "dependence") == said(bench, claim("change", "12 % slower"))
    named = claim("change", "12 % slower", platform="p1 p2")
    assert ("holds", "borne_out") == said(bench, named)


def test_a_change_is_too_broad_where_a_cell_was_not_measured(bench: Bench) -> None:
    bench.cross(RIGS)
    bench.missing(workload="mist")
    judged = judge(claim("change", "12 % slower"), bench.evidence())
    assert ("broader_than_the_data", "unmeasured") == (judged.verdict, judged.finding)
    assert judged.missing == ("anna.p1-c1 mist 1920x1080 on-off average_fps: not_measured",)


def test_a_change_counts_a_cell_without_a_verdict_as_not_measured(bench: Bench) -> None:
    bench.cross(RIGS)
    bench.change(-12.0, workload="mist", no_verdict="ineffective")
    assert ("broader_than_the_data", "unmeasured") == said(bench, claim("change", "12 % slower"))


def test_a_change_a_workload_on_which_the_setting_cannot_act_counts_only_where_it_is_named(
    bench: Bench,
) -> None:
    bench.change(-12.3)
    bench.change(0.0, workload="idle")
    assert ("holds", "borne_out") == said(bench, claim("change", "12 % slower"))
    assert ("fails", "other_figure") == said(bench, claim("change", "12 % slower", workload="idle"))


def test_a_change_slower_is_more_where_less_is_better(bench: Bench) -> None:
    bench.better = "lower"
    bench.change(12.1)
    assert ("holds", "borne_out") == said(bench, claim("change", "12 % slower"))
    assert ("fails", "other_figure") == said(bench, claim("change", "12 % lower"))


def test_a_change_pays_for_rounds_that_may_be_added(bench: Bench) -> None:
    row = bench.change(-12.3, half=2.2)
    assert ("holds", "borne_out") == said(bench, claim("change", "12 % slower"))
    row["high_decision_pct"] = -12.3 + 3.6
    assert ("not_settled", "too_wide") == said(bench, claim("change", "12 % slower"))


def test_up_to_holds_for_the_largest_of_several_titles(bench: Bench) -> None:
    bench.change(-12.3)
    bench.change(-1.0, workload="mist")
    assert ("holds", "borne_out") == said(bench, claim("largest_change", "up to 12 % slower"))


def test_up_to_fails_where_another_is_larger(bench: Bench) -> None:
    bench.change(-12.3)
    bench.change(-20.0, workload="mist")
    assert ("fails", "other_figure") == said(bench, claim("largest_change", "up to 12 % slower"))


def test_up_to_fails_where_all_changes_are_for_the_better(bench: Bench) -> None:
    bench.change(4.0)
    assert ("fails", "other_figure") == said(bench, claim("largest_change", "up to 12 % slower"))


def test_up_to_is_not_settled_where_a_noisy_cell_may_be_larger(bench: Bench) -> None:
    bench.change(-12.3)
    bench.change(-10.0, half=9.0, workload="mist")
    judged = judge(claim("largest_change", "up to 12 % slower"), bench.evidence())
    assert ("not_settled", "too_wide") == (judged.verdict, judged.finding)
    assert "mist" in judged.because


def test_up_to_is_too_broad_where_other_rigs_stay_far_below_in_the_same_place(bench: Bench) -> None:
    bench.cross({"p1-c1": -12.3, "p2-c1": -0.2})
    held = claim("largest_change", "up to 12 % slower")
    assert ("broader_than_the_data", "cells_disagree") == said(bench, held)
    assert ("holds", "borne_out") == said(bench, replace(held, scope=scope(platform="p1")))


def test_up_to_of_many_noisy_cells_is_not_taken_at_its_word(bench: Bench) -> None:
    # Twenty cells without any change, as far apart as chance puts them. Alone, the largest of them
    # would be taken for 3 %.
    for number in range(20):
        change = 1.53 * float(stats.norm.ppf((number + 0.5) / 20))
        bench.change(change, half=2.99, platform=f"p{number:02}")
    alone = claim("largest_change", "up to 3.0 % lower", platform="p00")
    assert ("holds", "borne_out") == said(bench, alone)
    among = claim("largest_change", "up to 3.0 % lower")
    assert ("not_settled", "too_wide") == said(bench, among)


def test_no_difference_holds_where_each_change_is_shown_to_be_immaterial(bench: Bench) -> None:
    bench.cross({"p1-c1": 0.5, "p1-c2": -1.0})
    assert ("holds", "borne_out") == said(bench, claim("no_difference"))


def test_no_difference_is_too_broad_where_one_cell_changes(bench: Bench) -> None:
    bench.cross({"p1-c1": 0.5, "p1-c2": -8.0})
    assert ("broader_than_the_data", "cells_disagree") == said(bench, claim("no_difference"))


def test_no_difference_fails_where_every_cell_changes(bench: Bench) -> None:
    bench.cross({"p1-c1": -7.0, "p1-c2": -8.0})
    assert ("fails", "difference_shown") == said(bench, claim("no_difference"))


def test_no_difference_is_not_settled_by_not_being_shown(bench: Bench) -> None:
    bench.cross({"p1-c1": 0.5, "p1-c2": 0.0}, half=5.0)
    assert ("not_settled", "too_wide") == said(bench, claim("no_difference"))


def test_a_geometric_mean_is_judged_on_each_rig(bench: Bench) -> None:
    bench.mean(-3.2)
    bench.mean(-2.6, rig="anna.p2-c1", platform="p2")
    assert ("holds", "borne_out") == said(bench, claim("geometric_mean_change", "3 % slower"))
    bench.mean(4.0, rig="anna.p1-c2", card="c2")
    held = claim("geometric_mean_change", "3 % slower", title_set="both")
    assert ("broader_than_the_data", "cells_disagree") == said(bench, held)


def test_a_geometric_mean_over_a_set_with_titles_missing_is_too_broad(bench: Bench) -> None:
    bench.mean(-3.2, titles_missing=1)
    held = claim("geometric_mean_change", "3 % slower")
    assert ("broader_than_the_data", "unmeasured") == said(bench, held)


ORDER = ("anna.a", "anna.b", "anna.c")


def ranked(*order: str) -> Claim:
    return replace(claim("ranking"), order=order or ORDER, ranked_by="value")


def test_a_ranking_holds_where_each_neighbour_is_shown_to_be_slower(bench: Bench) -> None:
    bench.between("anna.a", "anna.b", -5.0)
    bench.between("anna.b", "anna.c", -4.0)
    assert ("holds", "borne_out") == said(bench, ranked())


def test_a_ranking_names_the_pair_that_is_not_settled(bench: Bench) -> None:
    bench.between("anna.a", "anna.b", -5.0)
    bench.between("anna.b", "anna.c", -0.4)
    judged = judge(ranked(), bench.evidence())
    assert ("not_settled", "too_wide") == (judged.verdict, judged.finding)
    assert judged.because == (
        "not settled: anna.b above anna.c in all-shared 1920x1080 off average_fps (+0.4 %)"
    )


def test_a_ranking_fails_where_a_pair_stands_the_other_way_round(bench: Bench) -> None:
    bench.between("anna.a", "anna.b", 5.0)
    assert ("fails", "other_order") == said(bench, ranked("anna.a", "anna.b"))
    assert ("holds", "borne_out") == said(bench, ranked("anna.b", "anna.a"))


def test_a_ranking_turns_for_a_metric_of_which_less_is_better(bench: Bench) -> None:
    bench.better = "lower"
    bench.between("anna.a", "anna.b", 5.0)
    assert ("holds", "borne_out") == said(bench, ranked("anna.a", "anna.b"))


def test_a_ranking_of_titles_goes_by_what_the_setting_does(bench: Bench) -> None:
    bench.change(-12.0)
    bench.change(-5.0, workload="mist")
    held = replace(claim("ranking"), order=("dawn", "mist"), ranked_by="change", direction="loss")
    assert ("holds", "borne_out") == said(bench, held)
    assert ("fails", "other_order") == said(bench, replace(held, direction="gain"))


def test_dependence_holds_where_the_test_flags_it(bench: Bench) -> None:
    bench.factor("card", depends=True, p=1e-6, q=1e-5, extent_pct=8.0)
    held = replace(claim("depends_on"), factor="card")
    assert ("holds", "borne_out") == said(bench, held)


def test_dependence_counts_what_depends_on_both_together(bench: Bench) -> None:
    bench.factor("card")
    bench.factor("platform_card", depends=True, p=1e-6, q=1e-5, extent_pct=8.0)
    assert ("holds", "borne_out") == said(bench, replace(claim("depends_on"), factor="card"))


def test_dependence_fails_where_it_is_shown_to_make_no_material_difference(bench: Bench) -> None:
    bench.factor("card", extent_high_95_pct=2.0)
    assert ("fails", "no_dependence") == said(bench, replace(claim("depends_on"), factor="card"))


def test_dependence_is_too_broad_where_it_depends_in_one_title_only(bench: Bench) -> None:
    bench.factor("card", depends=True, extent_pct=8.0)
    bench.factor("card", workload="mist")
    held = replace(claim("depends_on"), factor="card")
    assert ("broader_than_the_data", "cells_disagree") == said(bench, held)


def test_dependence_can_not_be_told_without_a_full_cross(bench: Bench) -> None:
    bench.factor("card", not_estimable="one_card", extent_pct=None, p=None, q=None)
    held = replace(claim("depends_on"), factor="card")
    assert ("not_settled", "not_estimable") == said(bench, held)


def test_a_rig_difference_is_turned_to_the_stated_side(bench: Bench) -> None:
    bench.between("anna.a", "anna.b", 100.0, half=3.0)
    held = replace(claim("rig_difference", "twice as fast", rig="anna.b"), against="anna.a")
    assert ("holds", "borne_out") == said(bench, held)
    other = replace(claim("rig_difference", "half", rig="anna.a"), against="anna.b")
    judged = judge(other, bench.evidence())
    assert judged.verdict == "holds"
    assert judged.value == pytest.approx(-50.0)


def test_what_else_differs_between_rigs_is_said(bench: Bench) -> None:
    bench.between("anna.a", "anna.b", 100.0, half=3.0, differs_in="driver_version")
    held = replace(claim("rig_difference", "twice as fast", rig="anna.b"), against="anna.a")
    judged = judge(held, bench.evidence())
    assert judged.because.endswith("(the rigs also differ in driver_version)")


def test_a_value_is_held_against_the_cells_interval(bench: Bench) -> None:
    bench.value(142.3)
    assert ("holds", "borne_out") == said(bench, claim("value", "142 fps"))
    assert ("fails", "other_figure") == said(bench, claim("value", "150 fps"))


def test_a_value_of_one_boot_and_a_change_on_an_old_stack_are_marked(bench: Bench) -> None:
    bench.value(142.3, sessions=1)
    bench.change(-12.3, stale=True)
    evidence = bench.evidence()
    value = judge(claim("value", "142 fps"), evidence)
    assert value.because.endswith("(of one boot; another may read otherwise)")
    change = judge(claim("change", "12 % slower"), evidence)
    assert change.because.endswith("(1 of them on a stack that the rig no longer has)")


def test_a_cell_that_does_not_exist_is_a_finding_that_names_the_nearest(bench: Bench) -> None:
    bench.change(-12.0)
    bench.change(-12.0, card="c2", resolution="2560x1440")
    held = claim("change", "12 % slower", card="c2", resolution="1920x1080")
    judged = judge(held, bench.evidence())
    assert ("not_settled", "no_such_cell") == (judged.verdict, judged.finding)
    assert judged.because == (
        "nothing was measured for card=c2; resolution=1920x1080; nearest: "
        "anna.p1-c1 dawn 1920x1080 on-off average_fps"
    )


def test_an_unknown_rig_is_a_finding_with_near_names(bench: Bench) -> None:
    bench.change(-12.0)
    judged = judge(claim("change", "12 % slower", rig="anna.p1-c3"), bench.evidence())
    assert ("not_settled", "unknown_name") == (judged.verdict, judged.finding)
    assert judged.because == "the study holds no rig 'anna.p1-c3'; did you mean 'anna.p1-c1'?"


def test_a_scope_of_cells_that_were_planned_only_is_not_settled(bench: Bench) -> None:
    bench.change(-12.0)
    bench.missing(workload="mist")
    held = claim("change", "12 % slower", workload="mist")
    assert ("not_settled", "unmeasured") == said(bench, held)


@pytest.mark.parametrize(
    "held",
    [
        claim("change", "1 % slower"), claim("largest_change", "up to 1 % slower"),
        claim("geometric_mean_change", "1 % slower"), claim("no_difference"),
        replace(claim("depends_on"), factor="card"), claim("value", "1 fps"),
        replace(claim("ranking"), order=("dawn", "mist"), ranked_by="change", direction="loss"),
    ],
    ids=lambda held: held.quantity,
)  # fmt: skip
def test_an_empty_study_settles_nothing(bench: Bench, held: Claim) -> None:
    judged: Judged = judge(held, bench.evidence())
    assert ("not_settled", "no_such_cell") == (judged.verdict, judged.finding)


def test_intervals_that_hold_together_have_sidaks_level(bench: Bench) -> None:
    from statsmodels.stats.multitest import multipletests

    # statsmodels' multipletests gives Sidak's level for a family, as an outside reference.
    for number in range(7):
        bench.change(0.0, platform=f"p{number}")
    points = change_points(bench.changes)
    sidak = multipletests(np.full(7, 0.5), alpha=0.05, method="sidak")[2]
    assert 2 * points.each(0.025) == pytest.approx(sidak, rel=1e-12)


def test_what_is_near_enough_among_many_is_what_benjamini_and_hochberg_would_take() -> None:
    # scipy's false_discovery_control is the outside reference.
    chance = np.random.default_rng(3)
    for _ in range(50):
        p = np.concatenate((chance.uniform(size=15), chance.uniform(size=10) ** 6))
        chosen, level = discovered(lambda alpha, p=p: p <= alpha)
        assert np.array_equal(stats.false_discovery_control(p) <= 0.05, chosen)
        assert level == pytest.approx(0.05 * chosen.mean()) or not chosen.any()
