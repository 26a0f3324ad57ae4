"""After each admission a few lines say what is settled, what is doubtful and what is left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.tables.so_far import SettledSoFar, SoFar, _reached, so_far, so_far_lines

if TYPE_CHECKING:
    from conftest import Ledger

HELD = SoFar(
    "anna",
    (
        SettledSoFar("average_fps", 9, 1, 0, 5, 2, 1),
        SettledSoFar("low_1pct_rank_fps", 0, 0, 0, 0, 0, 0),
    ),
    tuple(f"anna.box, dawn, 1920x1080, off: {n} of 3 runs (average_fps)" for n in range(7)),
    2, 48, 12, 95.0, ("slow with big",),
)  # fmt: skip


def test_it_is_said_in_a_few_lines(ledger: Ledger) -> None:
    assert "\n".join(so_far_lines(HELD, ledger.design, "my-study")) == (
        "So far, of anna:\n"
        "  settled   average_fps: 6 of 9 changes (1 material loss, 5 within 3 %); 2 not settled, "
        "1 without verdict\n"
        "  settled   low_1pct_rank_fps: nothing yet, no cell is measured at two levels\n"
        "  doubtful  anna.box, dawn, 1920x1080, off: 0 of 3 runs (average_fps)\n"
        "  doubtful  anna.box, dawn, 1920x1080, off: 1 of 3 runs (average_fps)\n"
        "  doubtful  anna.box, dawn, 1920x1080, off: 2 of 3 runs (average_fps)\n"
        "  doubtful  anna.box, dawn, 1920x1080, off: 3 of 3 runs (average_fps)\n"
        "  doubtful  anna.box, dawn, 1920x1080, off: 4 of 3 runs (average_fps)\n"
        "            and 2 more cells\n"
        "  left      12 of 48 planned runs on the rigs begun, 1 h 35 min; "
        "not begun: slow with big\n"
        "Next step: rigledger sheet my-study --remaining anna, or "
        "rigledger sheet my-study --again anna"
    )


def test_when_all_is_done_nothing_is_asked_for(ledger: Ledger) -> None:
    done = SoFar("anna", HELD.settled, (), 0, 48, 0, 0.0, ())
    assert list(so_far_lines(done, ledger.design, "s"))[-2:] == [
        "  doubtful  no run",
        "  left      none of the 48 planned runs on the rigs begun",
    ]


def test_it_is_read_from_the_contributors_own_runs(ledger: Ledger) -> None:
    """Two titles of three: a change of 10 % in one, none in the other, a run that is 40 % off."""
    session = ledger.session("anna.one", 1)
    for workload, on in (("dawn", 1.1), ("mist", 1.0)):
        for number, off in enumerate((99.8, 100.0, 100.3, 100.1, 99.9)):
            odd = 1.4 if (workload, number) == ("mist", 2) else 1.0
            ledger.run(session, workload, "off", off * odd)
            ledger.run(session, workload, "on", off * on)
    ledger.rig("bea.one")
    ledger.cell(ledger.session("bea.one", 1), "dawn", "off", [50.0, 51.0, 52.0])
    ledger.build().select("select 1 from cells, comparisons limit 0")
    beside_bea = _reached(ledger.con, ledger.design, "anna")
    held = so_far(ledger.con, ledger.design, ledger.contract, "anna")
    assert held == beside_bea
    assert (held.settled[0].comparisons, held.settled[0].gains) == (2, 1)
    assert held.doubtful == ("anna.one, mist, 1920x1080, off: 1 of 5 runs (average_fps)",)
    assert (held.runs_planned, held.runs_left) == (18, 6)
    assert held.not_begun == (
        "fast with small", "slow with big", "slow with small", "third with big", "third with small",
    )  # fmt: skip
    assert held.minutes_left > 0
