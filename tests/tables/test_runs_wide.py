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


def test_what_a_correction_leaves_out_is_left_out_of_the_wide_runs_too(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    runs = [ledger.run(session, "dawn", "off", 60.0 + n) for n in range(3)]
    for run in runs:
        ledger.measure(run, "low_1pct_unstated_fps", 40.0)
    held = {"session": session, "action": "exclude", "reason": "r"}
    ledger.add("corrections", correction="c1", run=runs[0], status="applied", **held)
    ledger.add(
        "corrections", correction="c2", run=runs[1], status="applied", metric="average_fps", **held
    )
    ledger.add("corrections", correction="c3", run=runs[2], status="proposed", **held)
    found = ledger.build().select("select run, average_fps, low_1pct_unstated_fps from runs_wide")
    assert found == [(runs[1], None, 40.0), (runs[2], 62.0, 40.0)]


def test_recomputed_values_stand_beside_the_reported_ones(ledger: Ledger) -> None:
    capture = ledger.capture("minute")
    session = ledger.session("anna.one", 1)
    whole = ledger.run(session, "dawn", "off", 61.0, recomputed=60.0, capture=capture)
    window = ledger.run(
        session, "dawn", "off", None, recomputed=60.0, capture=capture, capture_for_s=10.0
    )
    ledger.measure(window, "low_1pct_rank_fps", 45.0, origin="recomputed")
    found = ledger.build().select("select * from run_metrics")
    assert found == [
        (whole, "average_fps", "fps", 60.0, 61.0, 100 * (60.0 - 61.0) / 61.0, 3600, False),
        (window, "average_fps", "fps", 60.0, None, None, 600, False),
        (window, "low_1pct_rank_fps", "fps", 45.0, None, None, 600, True),
    ]
