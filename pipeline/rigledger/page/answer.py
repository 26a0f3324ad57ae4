"""The answer in sentences: what the comparisons say, with the scope they say it for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.page.words import counted, signed_pct

if TYPE_CHECKING:
    from rigledger.release.view import ReleaseView

_SQL = Path(__file__).parent / "sql"


def query(name: str) -> str:
    """Read one of the page's queries."""
    return (_SQL / f"{name}.sql").read_text(encoding="utf-8")


def answer_sentences(view: ReleaseView) -> list[str]:
    """Say what was found, one sentence per contrast and metric, and what it depends on."""
    if not view.has("comparisons"):
        return ["This release holds no comparisons."]
    delta = view.design.material_change_pct
    rows = view.rows(query("answer"))
    sentences = [_sentence(row, delta) for row in rows]
    return (sentences or ["No two levels were measured in cells that can be compared."]) + _depends(
        view
    )


def _sentence(row: dict[str, Any], delta: float) -> str:
    metric = str(row["metric_title"]).split(":", 1)[0]
    scope = (
        f"{counted(row['comparisons'], 'comparison')} on {counted(row['rigs'], 'rig')} and "
        f"{counted(row['workloads'], 'workload')}"
    )
    judged = row["comparisons"] - row["without_verdict"]
    if judged == 0:
        return (
            f"{row['to_title']} against {row['from_title']}, {metric}: "
            f"none of {scope} allows a verdict."
        )
    open_ones = judged - row["gains"] - row["losses"] - row["immaterial"]
    return (
        f"{row['to_title']} against {row['from_title']}, {metric}: of {scope}, "
        f"{row['gains']} show a gain of more than {delta:g} %, {row['losses']} such a loss, "
        f"{row['immaterial']} lie within ±{delta:g} %, {open_ones} are not settled and "
        f"{row['without_verdict']} have no verdict; changes run from "
        f"{signed_pct(row['least_pct'])} to {signed_pct(row['most_pct'])}."
    )


def _depends(view: ReleaseView) -> list[str]:
    if not view.has("factor_effects"):
        return []
    rows = view.rows(query("depends"))
    if not rows:
        return ["Nowhere was the change shown to depend on platform or card."]
    workloads = sorted({str(row["workload"]) for row in rows})
    count = counted(len(rows), "case")
    where = ", ".join(workloads)
    return [f"The change depends on the hardware in {count} ({where}); the table below says where."]
