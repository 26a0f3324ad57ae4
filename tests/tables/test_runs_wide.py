"""The file people open first, and what was recomputed beside what was reported."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from conftest import Ledger


def test_every_run_in_force_has_a_row_with_names_versions_and_metric_columns(
    ledger: Ledger,
) -> None:
    session = ledger.session("anna.one", 1, driver="551.10")
    run = ledger.run(session, "dawn", "off", 60.0, recomputed=59.5)
    ledger.measure(run, "low_1pct_unstated_fps", 40.0)
    ledger.run(session, "dawn", "on", None, role="aborted", reason="the title crashed")
    found = ledger.build().select("""
        select run, shown_name, processor, card_model, driver_version, title, role, reason, origin,
            average_fps, low_1pct_unstated_fps, low_1pct_rank_fps
        from runs_wide
    """)
    names = ("Anna", "P fast", "C big", "551.10", "T dawn")
    assert found == [
        (run, *names, "measured", None, "both", 59.5, 40.0, None),
        ("anna.one.1.002", *names, "aborted", "the title crashed", None, None, None, None),
    ]


def test_runs_of_any_role_are_shown_and_those_of_sets_no_longer_in_force_are_not(
    ledger: Ledger,
) -> None:
    ledger.result_set("anna.second", "withdrawn")
    session = ledger.session("anna.one", 1)
    ledger.run(session, "dawn", "off", 60.0, role="warm_up")
    ledger.run(session, "dawn", "off", 61.0, role="excluded", reason="excluded by correction c1")
    ledger.run(ledger.session("anna.one", 2, set_id="anna.second"), "dawn", "off", 62.0)
    found = ledger.build().select("select run, role, reason, average_fps from runs_wide")
    assert found == [
        ("anna.one.1.001", "warm_up", None, 60.0),
        ("anna.one.1.002", "excluded", "excluded by correction c1", 61.0),
    ]


def test_recomputed_values_stand_beside_the_reported_ones(ledger: Ledger) -> None:
    capture = ledger.capture("minute")
    session = ledger.session("anna.one", 1)
    whole = ledger.run(session, "dawn", "off", 61.0, recomputed=60.0, capture=capture)
    window = ledger.run(
        session,
        "dawn",
        "off",
        None,
        recomputed=60.0,
        capture=capture,
        capture_for_s=10.0,
        frames=599,
    )
    ledger.measure(window, "low_1pct_rank_fps", 45.0, origin="recomputed", frames=599)
    found = ledger.build().select("select * from run_metrics")
    assert found == [
        (whole, "average_fps", "fps", 60.0, 61.0, 100 * (60.0 - 61.0) / 61.0, 3600, False),
        (window, "average_fps", "fps", 60.0, None, None, 599, False),
        (window, "low_1pct_rank_fps", "fps", 45.0, None, None, 599, True),
    ]
