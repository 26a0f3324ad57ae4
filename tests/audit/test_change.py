"""Which rigs an announced change touches."""

from __future__ import annotations

import datetime as dt

import pytest

from rigledger.audit.change import Change, announce
from rigledger.audit.errors import AlreadyCurrentError, StackOrderError, UnknownNameError
from rigledger.audit.line import BuildOnRig, RigLine, StackOnRig

DAY = dt.date(2026, 10, 5)
LATER = dt.date(2026, 10, 20)


def stack(rig: str, driver: str, boot: int, day: dt.date = DAY) -> StackOnRig:
    versions = {"driver_version": driver, "firmware_version": "F1", "os": "Plinth 9"}
    return StackOnRig(rig, f"anna.{driver}", day, day, boot, 1, ("anna.first",), versions)


def line(rig: str, *drivers: str, build: str = "1.0") -> RigLine:
    stacks = tuple(stack(rig, driver, boot) for boot, driver in enumerate(drivers, start=1))
    return RigLine(rig, stacks, (BuildOnRig(rig, "dawn", build, DAY, DAY),))


ONE, TWO = line("anna.one", "1.0"), line("anna.two", "1.0", "2.0")


def driver(version: str, since: dt.date = LATER) -> Change:
    return Change((("driver_version", version),), (), since)


def touched(change: Change, *lines: RigLine) -> list[tuple[str, object]]:
    return [(held.rig, held.was) for held in announce(change, lines).touched]


def test_rigs_that_are_on_it_already_are_passed_over_by_name() -> None:
    found = announce(driver("2.0"), [ONE, TWO])
    assert ["anna.one"] == [held.rig for held in found.touched]
    assert (("anna.two", f"is on it already, since {DAY}"),) == found.passed_over


def test_what_a_rig_was_on_is_read_rig_by_rig() -> None:
    assert [
        ("anna.one", (("driver_version", "1.0"),)),
        ("anna.two", (("driver_version", "2.0"),)),
    ] == touched(driver("3.0"), ONE, TWO)


def test_going_back_to_a_version_is_seen_as_such() -> None:
    (held,) = announce(driver("1.0"), [TWO]).touched
    assert held.goes_back_to == TWO.stacks[0]


def test_a_titles_new_build_touches_the_rigs_that_ran_another() -> None:
    change = Change((), (("dawn", "1.1"),), LATER)
    found = announce(change, [ONE, line("anna.new", "1.0", build="1.1")])
    assert [("anna.one", (("dawn", "1.0"),))] == [(t.rig, t.builds) for t in found.touched]


@pytest.mark.parametrize(
    ("change", "rigs", "error", "words"),
    [
        (driver("3.0"), ["anna.oen"], UnknownNameError, "did you mean 'anna.one'"),
        (Change((), (("dwan", "2"),), LATER), [], UnknownNameError, "did you mean 'dawn'"),
        (driver("2.0"), ["anna.two"], AlreadyCurrentError, "is on it already, since 2026-10-05"),
        (driver("3.0", dt.date(2026, 10, 1)), [], StackOrderError, "dated 2026-10-01, before"),
    ],
)
def test_what_cant_be_is_refused_with_a_next_step(
    change: Change, rigs: list[str], error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words) as caught:
        announce(change, [ONE, TWO], rigs)
    assert getattr(caught.value, "next_step", None)
