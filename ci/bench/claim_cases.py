"""The claims that the benchmark judges: each kind, true and wrong, at the hardest places.

True ones are stated at the edge of what rounds to the printed figure, wrong ones just beyond the
material change.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from claim_studies import DELTA, World, workload

from rigledger.claims.model import Claim, Scope
from rigledger.claims.printed import understood

if TYPE_CHECKING:
    from collections.abc import Iterable

Kind = Literal["true", "wrong", "broad"]
OFF = DELTA + 0.01
PLATFORMS, CARDS = 4, 2
RIGS = [f"sim.p{n // CARDS}-c{n % CARDS}" for n in range(PLATFORMS * CARDS)]
# Two rigs that are nearly the same, one beyond the material change below them, and others.
RIG_FPS = np.array([1.0, 1.0001, 1.0 / (1 + OFF / 100), 0.90, 0.80, 1.5, 0.70, 0.60])

# What is true: the change of each workload on all rigs, but for those that differ.
NOTHING, ALSO_NOTHING, NEAR_EDGE, FAR_EDGE, ONE_RIG, LOSS = (workload(n) for n in range(6))
NEARLY, ONE_OVER, ONE_OFF, TIE, FAR, CARD = (workload(n) for n in range(6, 12))
ON_ALL = {
    NOTHING: 0.0, ALSO_NOTHING: 0.0, NEAR_EDGE: -11.51, FAR_EDGE: -12.49, ONE_RIG: 0.0,
    LOSS: -12.0, NEARLY: -2.99, ONE_OVER: 0.0, ONE_OFF: -12.0, TIE: -12.48, FAR: -15.51,
    CARD: 0.0,
}  # fmt: skip
ON_RIG = {
    (ONE_RIG, 0): 10.0, (ONE_OVER, 0): -OFF, (ONE_OFF, 0): -12.0 - OFF,
    **{(CARD, rig): OFF for rig in range(0, len(RIGS), CARDS)},
}  # fmt: skip
MIXED = (NOTHING, FAR_EDGE, LOSS, TIE)
SETS = {"mixed": MIXED, "one": (ONE_RIG,)}


@dataclass(frozen=True)
class Case:
    """A claim, and what is true of it: true, wrong beyond the material change, or too broad."""

    name: str
    kind: Kind
    claim: Claim


def world() -> World:
    """Give what is true of every study."""
    change = np.array([np.full(len(RIGS), ON_ALL[workload(n)]) for n in range(len(ON_ALL))])
    for (title, rig), value in ON_RIG.items():
        change[int(title[1:]), rig] = value
    return World(change, np.log(RIG_FPS), PLATFORMS, CARDS)


def scope(**names: str | tuple[str, ...]) -> Scope:
    """Give a scope; the simulated studies have one contrast and one metric."""
    held = Scope()
    for dimension, name in names.items():
        listed = (name,) if isinstance(name, str) else name
        held = held.narrowed(dimension, listed)  # type: ignore[arg-type]
    return held


def stated(quantity: str, text: str, **names: str | tuple[str, ...]) -> Claim:
    """Give a claim of a figure."""
    return Claim("c", "c", quantity, scope(**names), understood(text))  # type: ignore[arg-type]


def exact(value: float) -> str:
    """Print a change with two decimals: the printed range is then next to nothing."""
    return f"{abs(value):.2f} % {'higher' if value >= 0 else 'lower'}"


def cases() -> list[Case]:
    """List the claims that are judged in each study."""
    kinds = (
        change_cases(), largest_cases(), mean_cases(), same_cases(), ranking_cases(),
        depends_cases(), rig_cases(), value_cases(),
    )  # fmt: skip
    return [case for kind in kinds for case in kind]


def change_cases() -> Iterable[Case]:
    """Claims on the change, of one cell and of all rigs."""
    one = {"rig": RIGS[1]}
    for name, title in (("far", FAR_EDGE), ("near", NEAR_EDGE)):
        claim = stated("change", "12 % lower", workload=title, **one)
        yield Case(f"change in a cell, at the {name} edge", "true", claim)
    about = stated("change", "about 13 % lower", workload=LOSS, **one)
    yield Case("change in a cell, about, at its edge", "true", about)
    for side in (-OFF, OFF):
        claim = stated("change", exact(-12 + side), workload=LOSS, **one)
        yield Case(f"change in a cell, {side:+.2f} off", "wrong", claim)
    all_rigs = stated("change", "12 % lower", workload=FAR_EDGE)
    yield Case("change on all rigs, at the edge", "true", all_rigs)
    yield Case("change on all rigs, none", "true", stated("change", "0 %", workload=NOTHING))
    one_off = stated("change", "12 % lower", workload=ONE_OFF)
    yield Case("change on all rigs, one rig off", "wrong", one_off)
    all_off = stated("change", exact(-12 - OFF), workload=LOSS)
    yield Case("change on all rigs, all off", "wrong", all_off)
    broad = stated("change", "10 % higher", workload=ONE_RIG)
    yield Case("10 % on one rig, stated for all", "broad", broad)


def largest_cases() -> Iterable[Case]:
    """Claims on the largest change, over rigs alike and over titles."""
    none, mixed = (NOTHING, ALSO_NOTHING), (NOTHING, ALSO_NOTHING, FAR_EDGE)
    text = "up to 12 % lower"
    for name, title in (("far", FAR_EDGE), ("near", NEAR_EDGE)):
        claim = stated("largest_change", text, workload=title)
        yield Case(f"up to, all rigs alike, at the {name} edge", "true", claim)
    on_a_rig = stated("largest_change", text, workload=mixed, rig=RIGS[2])
    yield Case("up to, one title of three, at the edge", "true", on_a_rig)
    nothing = stated("largest_change", "up to 0 % lower", workload=none)
    yield Case("up to 0 %, nothing in 16 cells", "true", nothing)
    beyond = stated("largest_change", f"up to {OFF:.2f} % lower", workload=none)
    yield Case("up to, nothing in 16 cells, stated beyond", "wrong", beyond)
    for side in (-OFF, OFF):
        text = f"up to {12.49 + side:.2f} % lower"
        claim = stated("largest_change", text, workload=FAR_EDGE)
        yield Case(f"up to, all rigs alike, {side:+.2f} off", "wrong", claim)
        claim = stated("largest_change", text, workload=mixed, rig=RIGS[2])
        yield Case(f"up to, one title of three, {side:+.2f} off", "wrong", claim)
    broad = stated("largest_change", "up to 10 % higher", workload=ONE_RIG)
    yield Case("up to 10 % on one rig, stated for all", "broad", broad)


def mean_cases() -> Iterable[Case]:
    """Claims on geometric means."""
    logs = np.log1p(np.array([ON_ALL[title] for title in MIXED]) / 100)
    mean = float(100 * np.expm1(logs.mean()))
    # Stated so that the truth lies at the far edge of what rounds to it.
    edge = f"{abs(mean) - 0.5:.0f} % lower"
    kind = "geometric_mean_change"
    one = stated(kind, edge, title_set="mixed", rig=RIGS[5])
    yield Case("geometric mean on a rig", "true", one)
    yield Case("geometric mean on all rigs", "true", stated(kind, edge, title_set="mixed"))
    for side in (-OFF, OFF):
        claim = stated(kind, exact(mean + side), title_set="mixed", rig=RIGS[5])
        yield Case(f"geometric mean on a rig, {side:+.2f} off", "wrong", claim)
    all_off = stated(kind, exact(mean + OFF), title_set="mixed")
    yield Case("geometric mean on all rigs, all off", "wrong", all_off)
    broad = stated(kind, "10 % higher", title_set="one")
    yield Case("geometric mean, 10 % on one rig, stated for all", "broad", broad)


def same_cases() -> Iterable[Case]:
    """Claims that nothing changes."""

    def same(*titles: str) -> Claim:
        return Claim("c", "c", "no_difference", scope(workload=titles))

    yield Case("no difference, all just within", "true", same(NEARLY))
    yield Case("no difference, nothing in 16 cells", "true", same(NOTHING, ALSO_NOTHING))
    yield Case("no difference, one rig just beyond", "wrong", same(ONE_OVER))
    yield Case("no difference, all beyond", "wrong", same(LOSS))


def ranking_cases() -> Iterable[Case]:
    """Claims on the order of rigs and of titles."""

    def rigs(*numbers: int) -> Claim:
        order = tuple(RIGS[n] for n in numbers)
        return Claim("c", "c", "ranking", order=order, ranked_by="value")

    def titles(*order: str) -> Claim:
        held = scope(rig=RIGS[1])
        claim = Claim("c", "c", "ranking", held, order=order, ranked_by="change")
        return replace(claim, direction="loss")

    yield Case("ranking of rigs, two nearly the same", "true", rigs(5, 0, 1, 3, 4))
    yield Case("ranking of rigs, a pair the other way round", "wrong", rigs(2, 0, 3, 4))
    yield Case("ranking of titles, two nearly the same", "true", titles(FAR, FAR_EDGE, TIE))
    yield Case("ranking of titles, the other way round", "wrong", titles(FAR_EDGE, FAR))


def depends_cases() -> Iterable[Case]:
    """Claims that the change depends on something."""

    def depends(title: str, factor: str) -> Claim:
        claim = Claim("c", "c", "depends_on", scope(workload=title))
        return replace(claim, factor=factor)  # type: ignore[arg-type]

    yield Case("depends on the card, just beyond", "true", depends(CARD, "card"))
    yield Case("depends on the two together, one rig", "true", depends(ONE_RIG, "platform_card"))
    for factor in ("platform", "card", "platform_card"):
        yield Case(f"depends on {factor}, nothing does", "wrong", depends(NOTHING, factor))


def rig_cases() -> Iterable[Case]:
    """Claims on the difference between two rigs."""

    def beside(text: str) -> Claim:
        return replace(stated("rig_difference", text, rig=RIGS[5]), against=RIGS[0])

    yield Case("rig difference, 1.5 times", "true", beside("1.5 times"))
    for side in (-OFF, OFF):
        yield Case(f"rig difference, {side:+.2f} off", "wrong", beside(exact(50 + side)))


def value_cases() -> Iterable[Case]:
    """Claims on a value; the simulated workload runs at 100 fps on the first rig."""
    place = {"workload": NOTHING, "rig": RIGS[0]}
    yield Case("value in a cell", "true", stated("value", "100 fps", **place))
    for side in (-OFF, OFF):
        text = f"{100 / (1 + side / 100):.2f} fps"
        yield Case(f"value in a cell, {side:+.2f} % off", "wrong", stated("value", text, **place))
