"""Sentences about what the data bear out, from a claim's quantity, figure and scope."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from rigledger.claims.model import Claim, Dimension
    from rigledger.contract import Contract
    from rigledger.study.model import Design

_SENSES = {"gain": "higher", "loss": "lower", "+": "higher", "-": "lower"}
_IN_SCOPE: tuple[tuple[Dimension, str], ...] = (
    ("workload", "in"), ("title_set", "over the titles of"), ("card", "with"), ("platform", "on"),
    ("rig", "on"), ("contributor", "on the rigs of"), ("resolution", "at"),
)  # fmt: skip


@dataclass(frozen=True)
class Wording:
    """The study's own words for the names in a scope.

    Attributes:
        names: Dimension to name to words.
        setting: What the setting is called.
        delta: The material change, in per cent.
        contrasts: Contrast to the words of its two levels, from and to.
        lower_is_better: Metrics of which less is better.
    """

    names: Mapping[str, Mapping[str, str]]
    setting: str
    delta: float
    contrasts: Mapping[str, tuple[str, str]]
    lower_is_better: frozenset[str]

    def sentence(self, claim: Claim) -> str:
        """Say what a claim states, with all of its scope."""
        says = self._says()[claim.quantity](claim)
        parts = [says, *self._places(claim)]
        text = " ".join(part for part in parts if part)
        return f"{text[:1].upper()}{text[1:]}."

    def _says(self) -> Mapping[str, Callable[[Claim], str]]:
        return {
            "change": self._change,
            "largest_change": self._change,
            "geometric_mean_change": self._change,
            "no_difference": self._no_difference,
            "depends_on": self._depends,
            "ranking": self._ranking,
            "rig_difference": self._rig_difference,
            "value": lambda claim: f"{self._metrics(claim)} is {_text(claim)}{self._levels(claim)}",
        }

    def _change(self, claim: Claim) -> str:
        mean = " (geometric mean)" if claim.quantity == "geometric_mean_change" else ""
        return f"{self._with(claim)} {self._metrics(claim)} is {self._figure(claim)}{mean}"

    def _figure(self, claim: Claim) -> str:
        if claim.printed is None or claim.printed.kind == "value":
            return _text(claim)
        if claim.printed.kind == "times":
            return f"{_text(claim)} as high"
        return f"{_text(claim)} {self._higher(claim)}"

    def _higher(self, claim: Claim) -> str:
        sense = (claim.printed.sense if claim.printed else None) or claim.direction or "+"
        turned = bool(self.lower_is_better & set(claim.scope.of("metric") or ()))
        if turned and sense in {"gain", "loss"}:
            sense = {"gain": "loss", "loss": "gain"}[sense]
        return _SENSES[sense]

    def _no_difference(self, claim: Claim) -> str:
        return (
            f"{self._with(claim)} {self._metrics(claim)} changes by no more than {self.delta:g} %"
        )

    def _depends(self, claim: Claim) -> str:
        words = {
            "platform": "the platform", "card": "the card",
            "platform_card": "platform and card together",
        }  # fmt: skip
        change = f"the change of {self._metrics(claim)}"
        return f"{self._with(claim)} {change} depends on {words[claim.factor or 'platform']}"

    def _ranking(self, claim: Claim) -> str:
        rigs = "." in claim.order[0]
        known = self.names.get("rig" if rigs else "workload", {})
        order = ", ".join(known.get(name, name) for name in claim.order)
        if claim.ranked_by != "change":
            return f"by {self._metrics(claim)}{self._levels(claim)}, the best first, {order}"
        most = "gains" if claim.direction == "gain" else "loses"
        return f"{self._with(claim)} {self._metrics(claim)} {most} most in the order {order}"

    def _rig_difference(self, claim: Claim) -> str:
        known = self.names.get("rig", {})
        against = known.get(claim.against or "", claim.against or "")
        than = "as" if claim.printed and claim.printed.kind == "times" else "than"
        told = f"{self._figure(claim)} {than} on {against}"
        return f"{self._metrics(claim)} is {told}{self._levels(claim)}"

    def _with(self, claim: Claim) -> str:
        contrasts = claim.scope.of("contrast") or tuple(self.contrasts)
        told = [f"{self.contrasts[c][1]} instead of {self.contrasts[c][0]}" for c in contrasts]
        return f"with {' or '.join(told)}"

    def _metrics(self, claim: Claim) -> str:
        metrics = claim.scope.of("metric")
        if metrics is None:
            return "each metric"
        return _listed(self.names["metric"].get(name, name) for name in metrics)

    def _levels(self, claim: Claim) -> str:
        levels = claim.scope.of("level")
        if levels is None:
            return ""
        return f" with {_listed(self.names['level'].get(name, name) for name in levels)}"

    def _places(self, claim: Claim) -> Iterable[str]:
        for dimension, word in _IN_SCOPE:
            names = claim.scope.of(dimension)
            if names is not None:
                known = self.names.get(dimension, {})
                yield f"{word} {_listed(known.get(name, name) for name in names)}"


def _text(claim: Claim) -> str:
    return claim.printed.plain if claim.printed else ""


def _listed(words: Iterable[str]) -> str:
    held = list(words)
    if len(held) < 2:
        return "".join(held)
    return f"{', '.join(held[:-1])} and {held[-1]}"


def words_of(design: Design, contract: Contract) -> Wording:
    """Give the words of a study."""
    levels = {held.level: held.title for held in design.levels}
    metrics = contract.metrics
    named = {
        "metric": {name: _lowered(held.title.split(":", 1)[0]) for name, held in metrics.items()},
        "level": levels,
        "workload": _told_apart(
            {held.workload: (held.title, held.preset) for held in design.workloads}
        ),
        "platform": _told_apart(
            {held.platform: (held.processor, held.board) for held in design.platforms}
        ),
        "card": _told_apart({held.card: (held.model, held.card_class) for held in design.cards}),
    }
    return Wording(
        named,
        design.setting,
        design.material_change_pct,
        {c.contrast: (levels[c.from_level], levels[c.to_level]) for c in design.contrasts},
        frozenset(name for name, held in metrics.items() if held.direction == "lower"),
    )


def _lowered(text: str) -> str:
    return text[:1].lower() + text[1:]


def _told_apart(held: Mapping[str, tuple[str, str]]) -> dict[str, str]:
    """Give each its first word, with the second where the first is not its own."""
    count = Counter(first for first, _ in held.values())
    return {
        name: first if count[first] == 1 else f"{first} ({second})"
        for name, (first, second) in held.items()
    }
