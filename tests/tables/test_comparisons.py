"""What a comparison is made of, and when it has a verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from scipy.stats import false_discovery_control

from rigledger.contract import Metric

if TYPE_CHECKING:
    from collections.abc import Callable

    from conftest import Ledger

OFF = [100.0, 101.0, 99.5]
ON = [110.0, 111.5, 109.0]
VERDICT = "direction, size, no_verdict"


def pair(ledger: Ledger, session: str, workload: str = "dawn", **on: object) -> None:
    """Add three passes of both levels; keywords are for the runs of `on`."""
    for off_value, on_value in zip(OFF, ON, strict=True):
        ledger.run(session, workload, "off", off_value)
        ledger.run(session, workload, "on", on_value, **on)


def verdicts(ledger: Ledger) -> list[tuple[object, ...]]:
    return ledger.select(f"select workload, {VERDICT} from comparisons")


def test_the_change_is_taken_within_sessions_and_then_summarised(ledger: Ledger) -> None:
    first, second = ledger.session("anna.one", 1), ledger.session("anna.one", 2)
    ledger.cell(first, "dawn", "off", [100.0] * 3)
    ledger.cell(first, "dawn", "on", [110.0] * 3)
    ledger.cell(second, "dawn", "off", [150.0])
    ledger.cell(second, "dawn", "on", [165.0] * 3)
    found = ledger.build().select("""
        select round(change_pct, 9), from_runs, to_runs, design, sessions, blocks, one_session
        from comparisons
    """)
    # The cells' run means differ by 137.5 / 112.5: +22 %.
    assert found == [(10.0, 4, 6, "within_sessions", 2, 2, False)]


def test_levels_that_need_a_reboot_are_compared_round_by_round(ledger: Ledger) -> None:
    for boot, (round_, level, value) in enumerate(
        [(1, "off", 100.0), (1, "on", 110.0), (2, "off", 150.0), (2, "on", 165.0), (3, "on", 300.0)]
    ):
        session = ledger.session("anna.one", boot + 1, round_=round_)
        ledger.cell(session, "dawn", level, [value] * 3)
    found = ledger.build().select("""
        select round(change_pct, 9), design, sessions, blocks, session_basis, one_session
        from comparisons
    """)
    assert found == [(10.0, "between_sessions", 4, 2, "measured_rounds", False)]


def test_a_clear_change_is_a_material_gain_and_no_change_is_immaterial(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    pair(ledger, session)
    for off_value, on_value in ((60.0, 60.1), (60.1, 60.0), (59.9, 59.9)):
        ledger.run(session, "mist", "off", off_value)
        ledger.run(session, "mist", "on", on_value)
    assert [
        ("dawn", "gain", "material", None),
        ("mist", "not_shown", "immaterial", None),
    ] == verdicts(ledger.build())


def test_a_level_not_in_force_leaves_the_row_without_verdict_and_out_of_summaries(
    ledger: Ledger,
) -> None:
    session = ledger.session("anna.one", 1)
    pair(ledger, session, level_state="ineffective")
    pair(ledger, session, "mist")
    ledger.build()
    assert [
        ("dawn", None, None, "ineffective"),
        ("mist", "gain", "material", None),
    ] == verdicts(ledger)
    shown = ledger.select("""
        select change_pct is not null, p_direction, q_direction from comparisons
        where workload = 'dawn'
    """)
    assert shown == [(True, None, None)]
    assert [(1, 2, "mist")] == ledger.select(
        "select titles, titles_missing, titles_used from overall"
    )


def test_one_run_of_three_not_in_force_is_enough_to_withhold_the_verdict(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    ledger.cell(session, "dawn", "off", OFF)
    ledger.cell(session, "dawn", "on", ON[:2])
    ledger.run(session, "dawn", "on", ON[2], level_state="unsupported")
    assert [("dawn", None, None, "ineffective")] == verdicts(ledger.build())


def test_a_fact_that_differs_between_the_sides_confounds_a_temperature_does_not(
    ledger: Ledger,
) -> None:
    sessions = [ledger.session("anna.one", boot) for boot in (1, 2)]
    for session, level, values, limit in zip(
        sessions, ("off", "on"), (OFF, ON), ("200", "250"), strict=True
    ):
        ledger.cell(session, "dawn", level, values)
        ledger.add("facts", session=session, fact="power_limit_w", value=limit, unit="W")
        ledger.add(
            "facts",
            session=session,
            fact="ambient_temperature_degc",
            value=f"2{limit[1]}",
            unit="degC",
        )
    found = ledger.build().select(f"select confounded_by, {VERDICT} from comparisons")
    assert found == [("power_limit_w", None, None, "confounded")]
    assert [(0, None)] == ledger.select("select titles, change_pct from overall")


def test_a_fact_of_a_session_that_holds_both_levels_confounds_nothing(ledger: Ledger) -> None:
    for boot, limit in ((1, "200"), (2, "250")):
        session = ledger.session("anna.one", boot)
        pair(ledger, session)
        ledger.add("facts", session=session, fact="power_limit_w", value=limit, unit="W")
    assert [("dawn", "gain", "material", None)] == verdicts(ledger.build())


def test_windows_of_different_length_confound(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    for off_value, on_value in zip(OFF, ON, strict=True):
        ledger.run(session, "dawn", "off", None, recomputed=off_value, capture_for_s=3.2)
        ledger.run(session, "dawn", "on", None, recomputed=on_value, capture_for_s=6.6)
    found = ledger.build().select("select confounded_by, no_verdict from comparisons")
    assert found == [("window", "confounded")]


def test_a_comparison_never_mixes_recomputed_and_reported_values(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    for value in OFF:
        ledger.run(session, "dawn", "off", value, recomputed=2 * value)
        ledger.run(session, "mist", "off", value, recomputed=2 * value)
        ledger.run(session, "rain", "off", None, recomputed=value)
    for value in ON:
        ledger.run(session, "dawn", "on", value, recomputed=2 * value)
        ledger.run(session, "mist", "on", value)
        ledger.run(session, "rain", "on", value)
    found = ledger.build().select("""
        select workload, origin, round(from_value), round(to_value), change_pct is null,
            confounded_by
        from comparisons
    """)
    assert found == [
        ("dawn", "recomputed", 200.0, 220.0, False, None),
        ("mist", "reported", 100.0, 110.0, False, None),
        ("rain", None, 100.0, 110.0, True, "origin"),
    ]


def test_a_single_run_has_an_interval_and_no_verdict(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    ledger.cell(session, "dawn", "off", OFF)
    ledger.cell(session, "dawn", "on", ON[:1])
    ledger.build()
    assert [("dawn", None, None, "one_run")] == verdicts(ledger)
    assert [(True,)] == ledger.select("select low_95_pct < change_pct from comparisons")


def test_levels_that_share_neither_session_nor_round_get_no_verdict(ledger: Ledger) -> None:
    ledger.cell(ledger.session("anna.one", 1, round_=1), "dawn", "off", OFF)
    ledger.cell(ledger.session("anna.one", 2, round_=2), "dawn", "on", ON)
    assert [("dawn", None, None, "no_blocks")] == verdicts(ledger.build())


def test_without_any_session_spread_levels_of_different_boots_get_no_verdict(
    make_ledger: Callable[..., Ledger],
) -> None:
    ledger = make_ledger(session_spread_pct="")
    ledger.rig("anna.one")
    ledger.cell(ledger.session("anna.one", 1), "dawn", "off", OFF)
    ledger.cell(ledger.session("anna.one", 2), "dawn", "on", ON)
    assert [("dawn", None, None, "no_session_spread")] == verdicts(ledger.build())


def test_sentinels_tell_the_session_spread(make_ledger: Callable[..., Ledger]) -> None:
    ledger = make_ledger(session_spread_pct="")
    ledger.rig("anna.one")
    for boot, (level, values) in enumerate([("off", OFF), ("on", ON)] * 3, start=1):
        session = ledger.session("anna.one", boot)
        ledger.run(session, "idle", level, 200.0 + boot / 5, role="sentinel")
        ledger.cell(session, "dawn", level, values)
        ledger.run(session, "idle", level, 200.0 + boot / 5, role="sentinel", **{"pass": 2})
    found = ledger.build().select("select session_basis, direction from comparisons")
    assert [("gain",)] == [row[1:] for row in found]
    assert found[0][0] in {"measured_sentinels", "measured_rounds"}
    assert [] == ledger.select("select * from cells where workload = 'idle'")


def test_too_few_frames_keep_the_value_and_withhold_the_verdict(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    for workload, seconds in (("dawn", 9.0), ("mist", 60.0), ("rain", None)):
        for average, low in zip(OFF, ON, strict=True):
            for level in ("off", "on"):
                run = ledger.run(session, workload, level, average, duration_s=seconds)
                ledger.measure(run, "low_1pct_rank_fps", low)
    ledger.build()
    assert [
        ("dawn", "insufficient_frames", 3),
        ("mist", None, 0),
        ("rain", None, 0),
    ] == ledger.select("""
        select workload, no_verdict, insufficient_frames_runs
        from comparisons
        join cells using (rig, stack, workload, title_build, resolution, metric)
        where metric = 'low_1pct_rank_fps' and level = 'on'
        order by workload
    """)


def test_the_latest_stack_is_current_and_rows_on_older_ones_are_stale(ledger: Ledger) -> None:
    pair(ledger, ledger.session("anna.one", 1, driver="1.0"))
    second = ledger.session("anna.one", 2, driver="2.0")
    pair(ledger, second)
    pair(ledger, ledger.session("anna.one", 3, driver="1.0"), "mist")
    ledger.cell(second, "rain", "on", ON)
    found = ledger.build().select("""
        select workload, driver_version, current, stale
        from comparisons join stacks using (stack)
        order by workload, driver_version
    """)
    # Going back to the old driver goes back to its stack: rows on it are fresh again.
    assert found == [
        ("dawn", "1.0", False, False),
        ("dawn", "2.0", True, True),
        ("mist", "1.0", True, False),
    ]


def test_only_measured_runs_of_sets_in_force_count(ledger: Ledger) -> None:
    ledger.result_set("anna.second", "superseded")
    session = ledger.session("anna.one", 1)
    pair(ledger, session)
    for role in ("warm_up", "aborted", "sentinel", "excluded"):
        ledger.run(session, "dawn", "on", 900.0, role=role, **{"pass": 9})
    pair(ledger, ledger.session("anna.one", 2, set_id="anna.second"))
    found = ledger.build().select("select from_runs, to_runs, sessions from comparisons")
    assert found == [(3, 3, 1)]


def test_q_is_that_of_the_reference_over_one_metric_and_contrast(ledger: Ledger) -> None:
    ledger.rig("bea.one")
    for rig in ("anna.one", "bea.one"):
        session = ledger.session(rig, 1)
        for place, workload in enumerate(("dawn", "mist", "rain")):
            ledger.cell(session, workload, "off", [100.0, 101.0 + len(rig) / 9, 99.0])
            ledger.cell(session, workload, "on", [100.6 + place, 101.0 + place, 100.0 + place])
    ledger.build()
    p, q = zip(*ledger.select("select p_direction, q_direction from comparisons"), strict=True)
    assert len(set(p)) > 3
    assert list(q) == pytest.approx(list(false_discovery_control(p, method="bh")), rel=1e-14)
    assert [("average_fps x off-on",)] == ledger.select("select distinct family from comparisons")


def test_whole_numbers_that_agree_do_not_make_an_interval_of_no_width(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    ledger.cell(session, "dawn", "off", [60.0] * 3, step=1.0)
    ledger.cell(session, "dawn", "on", [61.0] * 3, step=1.0)
    found = ledger.build().select("select spread_pct, moderated_spread_pct > 0.2 from comparisons")
    assert found == [(0.0, True)]
    # Three values of one step each: half a step off is possible on either side.
    ((width,),) = ledger.select("select high_95_pct - low_95_pct from comparisons")
    assert width > 1.0


def test_a_metric_of_which_less_is_better_turns_the_verdict_and_one_of_neither_has_none(
    make_ledger: Callable[..., Ledger],
) -> None:
    extra = {"comparable": "everywhere", "weighting": "none", "tail_rule": "none"}
    numbers = {"tail_pct": None, "fewest_frames": 0, "least": 0.01, "most": 1e5}
    ledger = make_ledger(
        metrics=[
            Metric("load_s", "time to load", "s", "lower", **extra, **numbers),
            Metric("board_power_w", "power", "W", "neither", **extra, **numbers),
        ]
    )
    ledger.rig("anna.one")
    session = ledger.session("anna.one", 1)
    for off_value, on_value in zip(OFF, ON, strict=True):
        for level, value in (("off", off_value), ("on", on_value)):
            run = ledger.run(session, "dawn", level, value, metric="load_s")
            ledger.measure(run, "board_power_w", value)
    found = ledger.build().select(
        f"select metric, unit, {VERDICT} from comparisons order by metric"
    )
    assert found == [
        ("board_power_w", "W", None, None, "direction_neither"),
        ("load_s", "s", "loss", "material", None),
    ]
    columns = [row[0] for row in ledger.select("describe runs_wide")]
    assert ["load_s", "board_power_w"] == columns[-2:]


def test_where_rounds_may_be_added_the_verdict_rests_on_a_wider_interval(
    make_ledger: Callable[..., Ledger],
) -> None:
    for rounds, wider in (("0", False), ("1", True)):
        ledger = make_ledger(rounds_may_be_added=rounds)
        ledger.rig("anna.one")
        pair(ledger, ledger.session("anna.one", 1))
        found = ledger.build().select("""
            select low_decision_pct < low_95_pct and high_decision_pct > high_95_pct,
                low_95_pct < low_90_pct and high_90_pct < high_95_pct
            from comparisons
        """)
        assert found == [(wider, True)]
