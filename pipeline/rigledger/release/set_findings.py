"""What the rules say of each set of a study, asked again for a release."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.findings import Finding
from rigledger.release.findings import SetFinding
from rigledger.release.judges import CHECK, JudgesHere
from rigledger.remembered import Remembered, key_of
from rigledger.study.decisions import read_decisions
from rigledger.tables.kept import key_of as tables_key

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import date

    from rigledger.release.judges import Judges
    from rigledger.study.decisions import Decision
    from rigledger.study.layout import StudyFolder

# Rules about taking a set in, which an admitted set meets by being in the study.
_OF_ADMITTING = frozenset(
    {"session_already_admitted", "boots_out_of_order_in_study", "rig_with_other_hardware"}
)


def findings_of(
    study: StudyFolder,
    released_on: date,
    shared: Path,
    remembered: Remembered | None = None,
    judges: Judges | None = None,
) -> Iterator[SetFinding]:
    """Check each set in force again, and give what the rules say with the curator's waivers.

    Sets under embargo on the day of the release are not looked at. What was found in a study whose
    files are the same is remembered: rules look at the other sets too.

    Args:
        study: The study.
        released_on: Day of the release.
        shared: Folder, there until the findings are taken, for what the checks read in common.
        remembered: What was found before.
        judges: Who checks; it is asked at once, and the findings wait for what it says.
    """
    memory, who = remembered or Remembered(), judges or JudgesHere()
    files = tables_key(study)
    asked: list[tuple[Decision, Callable[[], Any]]] = []
    for decision in read_decisions(study.decisions).in_force:
        if decision.embargo_until is None or decision.embargo_until <= released_on:
            key = key_of("findings", files, decision.set_id)
            given = (str(study.set_folder(decision.set_id)), str(study.root), str(shared))
            asked.append((decision, memory.later(key, partial(who.ask, CHECK, *given))))
    return (one for decision, wait in asked for one in _of_set(decision, wait()))


def found_in(folder: str, study: str, shared: str) -> list[dict[str, str | int | None]]:
    """Give what the rules say of one set of a study, as JSON values.

    Args:
        folder: The set's folder.
        study: The study's.
        shared: A folder for what checks of the study's sets read in common.
    """
    # Where another process is asked, this one need not load what checks sets.
    from rigledger.intake.check import check_set

    checked = check_set(Path(folder), Path(study), shared=Path(shared))
    return [held.as_dict() for held in checked.findings]


def _of_set(decision: Decision, found: list[dict[str, Any]]) -> Iterator[SetFinding]:
    waived = {held.rule: held.reason for held in decision.waivers}
    for held in (Finding(**one) for one in found):
        if held.rule not in _OF_ADMITTING:
            yield SetFinding(decision.set_id, held, waived.get(held.rule))
