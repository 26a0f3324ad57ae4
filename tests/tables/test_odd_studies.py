"""Odd studies, each a contributor of its own, through the whole build at once.

Nobody's set changes anybody else's numbers, so all of them stand in one ledger. Every published
number is finite or blank, inside the contract, and each odd study gets the answer stated here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from rigledger.tables.build import DERIVED_TABLES

if TYPE_CHECKING:
    from collections.abc import Callable

    from conftest import Ledger

OFF, ON = [100.0, 101.0, 99.5], [110.0, 111.5, 109.0]
WIDE = [0.5, 30.0, 1900.0]

# Values of one title at `off` and at `on` in one session: direction, size, why there is neither.
PAIRS: dict[str, tuple[list[float], list[float], tuple[str | None, str | None, str | None]]] = {
    "one-run": ([100.0], [110.0], (None, None, "one_run")),
    "one-run-on": (OFF, [110.0], (None, None, "one_run")),
    "two-runs": (OFF[:2], ON[:2], ("gain", "material", None)),
    "no-spread": ([100.0] * 3, [110.0] * 3, ("gain", "material", None)),
    "no-change": ([100.0] * 3, [100.0] * 3, ("not_shown", "immaterial", None)),
    "hopeless": (WIDE, WIDE[::-1], ("not_shown", "unsettled", None)),
    "hopeless-two": (WIDE[::2], WIDE[::-2], ("not_shown", "unsettled", None)),
    "thousandfold": ([0.5, 0.5, 0.6], [1900.0, 1950.0, 1999.0], ("gain", "material", None)),
    "a-thousandth": ([1000.0, 1001.0, 999.0], [1.0, 1.001, 0.999], ("loss", "material", None)),
}


def within(ledger: Ledger, who: str, off: list[float], on: list[float], **further: Any) -> None:  # noqa: ANN401
    """One title, both levels in one session."""
    ledger.rig(f"{who}.one")
    session = ledger.session(f"{who}.one", 1)
    ledger.cell(session, "dawn", "off", off, **further)
    ledger.cell(session, "dawn", "on", on, **further)


def apart(ledger: Ledger, who: str, *runs: tuple[str, float], rounds: bool = True) -> None:
    """One run a session, each level in sessions of its own."""
    ledger.rig(f"{who}.one")
    for boot, (level, value) in enumerate(runs):
        session = ledger.session(f"{who}.one", boot + 1, round_=1 + (boot // 2 if rounds else boot))
        ledger.cell(session, "dawn", level, [value])


def crossed(ledger: Ledger, who: str, off: list[float], on: list[float], without: str = "") -> None:
    """Two platforms and two cards, two titles."""
    for platform in ("fast", "slow"):
        for card in ("big", "small"):
            if f"{platform}-{card}" != without:
                rig = f"{who}.{platform}-{card}"
                ledger.rig(rig, platform, card)
                session = ledger.session(rig, 1)
                for title in ("dawn", "mist"):
                    ledger.cell(session, title, "off", off)
                    ledger.cell(session, title, "on", on)


def further_cases(ledger: Ledger) -> None:
    """Add the studies that are more than one pair of cells."""
    within(ledger, "steps", [1.0] * 3, [1.0, 2.0, 1.0], step=1.0)
    within(ledger, "ineffective", OFF, ON, level_state="ineffective")
    within(ledger, "other-builds", OFF, [])
    ledger.cell("other-builds.one.1", "dawn", "on", ON, title_build="2")
    within(ledger, "one-level", OFF, [])
    apart(ledger, "declared", ("off", 100.0), ("on", 110.0))
    apart(ledger, "no-round", ("off", 100.0), ("on", 110.0), rounds=False)
    apart(ledger, "many-boots", *(("off", 100.0 + n) if n % 2 else ("on", 110.0) for n in range(8)))
    within(ledger, "sentinel-only", OFF, [], role="sentinel")
    within(ledger, "not-possible", [], [100.0], role="not_possible", reason="can't be set")
    ledger.rig("nothing.one")
    crossed(ledger, "flat", [100.0] * 3, [110.0] * 3)
    crossed(ledger, "single", OFF[:1], ON[:1])
    crossed(ledger, "gap", OFF, ON, without="slow-small")
    crossed(ledger, "wide", WIDE[::2], WIDE[::-2])


@pytest.fixture
def odd(make_ledger: Callable[..., Ledger]) -> Ledger:
    ledger = make_ledger()
    for who, (off, on, _) in PAIRS.items():
        within(ledger, who, off, on)
    further_cases(ledger)
    return ledger.build(whole=True)


def test_odd_studies_give_stated_answers_and_no_number_that_is_none(odd: Ledger) -> None:
    """One build serves all statements: it is what takes the time."""
    assert [] == not_numbers(odd)
    assert verdicts(odd) == {who: said for who, (_, _, said) in PAIRS.items()} | {
        "declared": (None, None, "one_run"),
        "gap": ("gain", "material", None),
        "flat": ("gain", "material", None),
        "ineffective": (None, None, "ineffective"),
        "many-boots": ("gain", "unsettled", None),
        "no-round": (None, None, "no_blocks"),
        "single": (None, None, "one_run"),
        "steps": ("not_shown", "unsettled", None),
        "wide": ("not_shown", "unsettled", None),
    }
    assert no_partners(odd) == {"one-level": "not_measured", "other-builds": "other_build"}
    assert dependences(odd) == {
        "flat": (False, None),
        "gap": (False, "not_a_full_cross"),
        "single": (False, "no_spread"),
        "wide": (False, None),
    }
    # The interval of a hopeless cell is published at its column's bound, not beyond it.
    assert odd.select("""
        select max(high_95_pct), min(low_95_pct) < -99.99
        from comparisons where contributor = 'wide'
    """) == [(1_000_000.0, True)]


def not_numbers(ledger: Ledger) -> list[tuple[str, str]]:
    """Columns of any derived table that hold NaN or an infinity."""
    numbers = [
        (name, held.name)
        for name in DERIVED_TABLES
        for held in ledger.contract.wide("derived", name).fields
        if held.type == "number"
    ]
    return [
        (table, column)
        for table, column in numbers
        if ledger.select(f"select 1 from {table} where not isfinite({column})")
    ]


def verdicts(ledger: Ledger) -> dict[str, tuple[str | None, ...]]:
    rows = ledger.select(
        "select distinct contributor, direction, size, no_verdict from comparisons"
    )
    assert len(rows) == len({row[0] for row in rows})
    return {row[0]: row[1:] for row in rows}


def no_partners(ledger: Ledger) -> dict[str, str]:
    rows = ledger.select("""
        select distinct contributor, no_partner from cells where runs > 0 and no_partner is not null
    """)
    return dict(rows)


def dependences(ledger: Ledger) -> dict[str, tuple[bool, str | None]]:
    rows = ledger.select("select distinct contributor, depends, not_estimable from factor_effects")
    return {row[0]: row[1:] for row in rows}
