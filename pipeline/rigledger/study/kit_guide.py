"""The one-page guide of a kit, and its page of cautions."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from rigledger.study.cautions import CAUTIONS
from rigledger.study.sheet_rows import counts_text

if TYPE_CHECKING:
    from rigledger.study.kit_model import Kit

_STEPS = """
    Rigs: say which physical platform and card each rig has, and where they came from; the word
    unknown is allowed.

    Sessions: one row is one boot. Before you measure, type the day and the versions exactly as
    firmware, driver and system show them; copy them down as long as nothing changed. If one can't
    be read, write unknown; don't leave it blank.

    Runs: follow the rows from top to bottom. Type the title's build, whether the level was seen to
    be in force ({states}), and the numbers ({metrics}), one row a run. Don't type a mean of
    several runs.

    A run that went wrong keeps its row: set its role to aborted and give the reason, then add a
    row with a number of its own for the run that replaces it. If a level can't be set here, set
    the role to not_possible and give the reason.

    If you had to stop early, hand in what you have: delete the rows that were not run. One
    complete pair of cells is welcome.

    Versions, resolutions and names are text. If a version shows up as another number or as a date,
    retype it as text.

    Check it before you hand it in: rigledger check <this kit> --study <folder of the study>. It
    changes nothing and says what to mend.

    Your licence and consent: the numbers are published under {licence}, consent version {consent}.
    You may withdraw your set later; what was published before stays in the copies others hold.
"""


def guide_lines(kit: Kit) -> list[str]:
    """Give the guide's paragraphs: what is asked, then the steps."""
    states = ", ".join(kit.contract.vocabularies["level_state"].terms)
    text = _STEPS.format(
        states=states,
        metrics=", ".join(kit.design.all_metrics),
        licence=kit.set["licence"],
        consent=kit.set["consent_version"],
    )
    steps = [" ".join(part.split()) for part in text.strip().split("\n\n")]
    asked = f"This kit asks for {counts_text(kit.sheet)}."
    return [kit.design.title, kit.design.question, asked, *steps]


def guide_text(kit: Kit) -> str:
    """Give guide and cautions as a text file."""
    parts = [*guide_lines(kit), "CAUTIONS", *CAUTIONS]
    return "\n\n".join(textwrap.fill(part, 96) for part in parts) + "\n"
