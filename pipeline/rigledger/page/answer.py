"""The answer in sentences: what the comparisons say, with the scope they say it for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.counting import counted
from rigledger.page.words import signed_pct

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rigledger.release.view import ReleaseView

_SQL = Path(__file__).parent / "sql"
_NAMED = 3
_FACTORS = {
    "platform": "the platform",
    "card": "the card",
    "platform_card": "the platform together with the card",
}


@dataclass(frozen=True, slots=True)
class Answer:
    """What a release answers.

    Attributes:
        first: A sentence or two per contrast, for the study's first metric.
        further: The same for its other metrics.
    """

    first: tuple[str, ...]
    further: tuple[str, ...] = ()


def query(name: str) -> str:
    """Read one of the page's queries."""
    return (_SQL / f"{name}.sql").read_text(encoding="utf-8")


def answer_of(view: ReleaseView) -> Answer:
    """Say what was found, for each contrast and metric, and on what it depends."""
    if not view.has("comparisons"):
        return Answer(("This release holds no comparisons.",))
    rows = view.rows(query("answer"))
    if not rows:
        return Answer(("No two levels were measured in cells that can be compared.",))
    order = [one.contrast for one in view.design.contrasts]
    rows.sort(key=lambda row: order.index(row["contrast"]))
    depends = _dependences(view)
    metric = next(
        (name for name in view.design.metrics if any(row["metric"] == name for row in rows)),
        rows[0]["metric"],
    )
    told = [(row["metric"], _told(row, view.design.material_change_pct, depends)) for row in rows]
    return Answer(
        tuple(text for name, text in told if name == metric),
        tuple(text for name, text in told if name != metric),
    )


def _told(row: dict[str, Any], delta: float, depends: dict[tuple[str, str], dict[str, Any]]) -> str:
    metric = str(row["metric_title"]).split(":", 1)[0]
    pair = f"{row['to_title']} against {row['from_title']}"
    scope = (
        f"{counted(row['comparisons'], 'comparison')} on {counted(row['rigs'], 'rig')} and "
        f"{counted(row['workloads'], 'workload')}"
    )
    if row["comparisons"] == row["without_verdict"]:
        return f"{_capital(pair)}, {metric}: none of {scope} allows a verdict."
    return (
        f"{_capital(pair)}, {metric}, in {scope}: {_counts(row, delta)}. Changes run from "
        f"{signed_pct(row['least_pct'])} to {signed_pct(row['most_pct'])}. "
        f"{_dependence(depends.get((row['contrast'], row['metric'])))}"
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _counts(row: dict[str, Any], delta: float) -> str:
    settled = row["gains"] + row["losses"] + row["immaterial"] + row["without_verdict"]
    open_ones = row["comparisons"] - settled
    parts = [
        f"{row['losses']} lost more than {delta:g} %{_where(row['loss_titles'])}",
        f"{row['gains']} gained more than that{_where(row['gain_titles'])}",
        f"{row['immaterial']} stayed within ±{delta:g} %",
        f"{open_ones} {'is' if open_ones == 1 else 'are'} not settled",
    ]
    if row["without_verdict"]:
        parts.append(f"{row['without_verdict']} without a verdict")
    return ", ".join(parts)


def _where(titles: Sequence[str]) -> str:
    if not titles:
        return ""
    more = f" and {len(titles) - _NAMED} more" if len(titles) > _NAMED else ""
    return f" (in {_listed(titles[:_NAMED], more)})"


def _listed(names: Sequence[str], more: str = "") -> str:
    if more or len(names) == 1:
        return ", ".join(names) + more
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _dependences(view: ReleaseView) -> dict[tuple[str, str], dict[str, Any]]:
    if not view.has("factor_effects"):
        return {}
    return {(row["contrast"], row["metric"]): row for row in view.rows(query("depends"))}


def _dependence(row: dict[str, Any] | None) -> str:
    if row is None:
        return "That it depends on platform or card was not shown."
    factors = _listed([_FACTORS.get(name, name) for name in row["factors"]])
    return f"How much depends on {factors} in {_listed(row['titles'])}."
