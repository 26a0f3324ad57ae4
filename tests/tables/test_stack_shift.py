"""How cells and effects moved when a driver or a title's build changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from conftest import Ledger

OFF = [100.0, 100.4, 99.8]
ON = [110.0, 110.3, 109.6]
SLOWER = [92.0, 92.3, 91.7]


def measured(ledger: Ledger, boot: int, driver: str, off: list[float], **further: str) -> None:
    session = ledger.session("anna.one", boot, driver=driver)
    ledger.cell(session, "dawn", "off", off, **further)
    ledger.cell(session, "dawn", "on", ON, **further)


def test_each_level_and_the_effect_are_held_against_the_next_stack(ledger: Ledger) -> None:
    measured(ledger, 1, "1.0", OFF)
    measured(ledger, 2, "2.0", SLOWER)
    found = ledger.build().select("""
        select level, contrast, changed, from_build, to_build, round(shift_pct, 1),
            direction, size, moved, session_basis, family, from_runs, to_sessions
        from stack_shift
    """)
    expected = [
        ("effect", "off-on", "driver_version", "1", "1", 8.8, "gain", "material", True,
         "declared", "average_fps x off-on", 6, 1),
        ("off", "none", "driver_version", "1", "1", -8.1, "loss", "material", True,
         "declared", "average_fps x level", 3, 1),
        ("on", "none", "driver_version", "1", "1", 0.0, "not_shown", "immaterial", False,
         "declared", "average_fps x level", 3, 1),
    ]  # fmt: skip
    assert expected == found


def test_what_was_measured_stands_beside_the_shift(ledger: Ledger) -> None:
    measured(ledger, 1, "1.0", OFF)
    measured(ledger, 2, "2.0", SLOWER)
    found = ledger.build().select("""
        select level, round(from_value, 1), round(to_value, 1),
            round(from_change_pct, 1), round(to_change_pct, 1)
        from stack_shift
    """)
    assert [
        ("effect", None, None, 9.9, 19.5),
        ("off", 100.1, 92.0, None, None),
        ("on", 110.0, 110.0, None, None),
    ] == found


def test_builds_are_joined_over_and_the_change_says_so(ledger: Ledger) -> None:
    measured(ledger, 1, "1.0", OFF, title_build="1.0")
    measured(ledger, 2, "2.0", SLOWER, title_build="1.1")
    found = ledger.build().select("select distinct from_build, to_build, changed from stack_shift")
    assert [("1.0", "1.1", "driver_version, title_build")] == found


def test_the_build_that_both_stacks_have_is_preferred(ledger: Ledger) -> None:
    measured(ledger, 1, "1.0", OFF, title_build="1.0")
    measured(ledger, 2, "1.0", OFF, title_build="1.1")
    measured(ledger, 3, "2.0", SLOWER, title_build="1.0")
    measured(ledger, 4, "2.0", SLOWER, title_build="1.2")
    found = ledger.build().select("""
        select distinct from_stack = to_stack, from_build, to_build, changed
        from stack_shift order by all
    """)
    assert [
        (False, "1.0", "1.0", "driver_version"),
        (True, "1.0", "1.1", "title_build"),
        (True, "1.0", "1.2", "title_build"),
    ] == found


def test_going_back_to_a_driver_goes_back_to_its_stack(ledger: Ledger) -> None:
    measured(ledger, 1, "1.0", OFF)
    measured(ledger, 2, "2.0", SLOWER)
    measured(ledger, 3, "1.0", OFF)
    found = ledger.build().select("select from_sessions, to_sessions from stack_shift")
    assert [(2, 1)] * 2 == found[1:]
    assert 3 == len(found)


def test_a_cell_is_held_against_the_next_stack_on_which_it_was_measured(ledger: Ledger) -> None:
    measured(ledger, 1, "1.0", OFF)
    ledger.cell(ledger.session("anna.one", 2, driver="2.0"), "mist", "off", OFF)
    measured(ledger, 3, "3.0", SLOWER)
    stacks = "(select stack from sessions where boot = {})"
    found = ledger.build().select(f"""
        select distinct workload, from_stack = {stacks.format(1)}, to_stack = {stacks.format(3)}
        from stack_shift
    """)
    assert [("dawn", True, True)] == found


@pytest.mark.parametrize("watts", ["200", "300"])
def test_a_power_limit_that_differs_is_not_blamed_on_the_driver(ledger: Ledger, watts: str) -> None:
    measured(ledger, 1, "1.0", OFF)
    measured(ledger, 2, "2.0", SLOWER)
    for boot, value in ((1, "200"), (2, watts)):
        ledger.add("facts", session=f"anna.one.{boot}", fact="power_limit_w", value=value, unit="W")
    found = ledger.build().select("""
        select distinct confounded_by, no_verdict, direction is null, moved
        from stack_shift where level = 'off'
    """)
    same = [(None, None, False, True)]
    assert (same if watts == "200" else [("power_limit_w", "confounded", True, False)]) == found


def test_without_any_session_spread_there_is_an_interval_and_no_verdict(
    make_ledger: Callable[..., Ledger],
) -> None:
    ledger = make_ledger(session_spread_pct="")
    ledger.rig("anna.one")
    measured(ledger, 1, "1.0", OFF)
    measured(ledger, 2, "2.0", SLOWER)
    found = ledger.build().select("""
        select distinct no_verdict, direction, q, moved, low_95_pct < shift_pct from stack_shift
    """)
    assert [("no_session_spread", None, None, False, True)] == found


def test_a_level_not_in_force_has_no_verdict(ledger: Ledger) -> None:
    measured(ledger, 1, "1.0", OFF)
    session = ledger.session("anna.one", 2, driver="2.0")
    ledger.cell(session, "dawn", "on", ON, level_state="ineffective")
    found = ledger.build().select("select level, no_verdict, moved from stack_shift")
    assert [("on", "ineffective", False)] == found


def test_q_is_over_the_levels_of_one_metric(ledger: Ledger) -> None:
    """Benjamini and Hochberg (1995): p x members / rank, never above that of a larger p."""
    measured(ledger, 1, "1.0", OFF)
    measured(ledger, 2, "2.0", SLOWER)
    ((p_off, q_off), (p_on, q_on)) = ledger.build().select(
        "select p, q from stack_shift where contrast = 'none' order by level"
    )
    assert (min(2 * p_off, p_on), p_on) == (q_off, q_on)
