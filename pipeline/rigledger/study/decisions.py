"""decisions.toml: what was decided on each set handed in. Append-only.

The decision is what makes a set admitted: a folder without one is not part of the study.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import tomli_w

from rigledger.contract import load_contract
from rigledger.errors import StudyError, near_names
from rigledger.files import write_text
from rigledger.study.section import Section, read_row, read_toml, refuse_doubles

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable
    from pathlib import Path

    from rigledger.contract import Contract

_HEADER = """\
# What was decided on each set handed in. Written by the program; entries are added, never changed.
# A set that has no entry here is not part of the study, whatever lies in its folder.

"""


@dataclass(frozen=True, slots=True)
class Waiver:
    """A rule that returned a set and that the curator waived by name."""

    rule: str
    reason: str


@dataclass(frozen=True, slots=True)
class Decision:
    """What was decided on one set; attributes as in the contract's study table ``decisions``."""

    set_id: str
    contributor: str
    received_on: dt.date
    verdict: str
    sha256: str
    licence: str
    consent_version: str
    supersedes: str | None = None
    embargo_until: dt.date | None = None
    signed_with: str | None = None
    waivers: tuple[Waiver, ...] = ()


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """A set that its contributor took back; attributes as in the study table ``withdrawals``."""

    set_id: str
    sha256: str
    on: dt.date
    reason: str


@dataclass(frozen=True, slots=True)
class Decisions:
    """All decisions of a study, in the order in which they were made."""

    decisions: tuple[Decision, ...] = ()
    withdrawals: tuple[Withdrawal, ...] = ()

    @property
    def in_force(self) -> tuple[Decision, ...]:
        """Decisions whose sets are neither superseded nor withdrawn, ordered by set id.

        A superseded set does not come back when the set that replaced it is withdrawn.
        """
        held = (item for item in self.decisions if self.state(item.set_id) == "admitted")
        return tuple(sorted(held, key=lambda item: item.set_id))

    def of(self, contributor: str) -> Decisions:
        """Give the decisions on one contributor's sets, which no other's set can supersede."""
        own = tuple(item for item in self.decisions if item.contributor == contributor)
        names = {item.set_id for item in own}
        return Decisions(own, tuple(item for item in self.withdrawals if item.set_id in names))

    def decision(self, set_id: str) -> Decision | None:
        """Give the decision on a set, None where there is none."""
        return next((item for item in self.decisions if item.set_id == set_id), None)

    def withdrawal(self, set_id: str) -> Withdrawal | None:
        """Give the withdrawal of a set, None where there is none."""
        return next((item for item in self.withdrawals if item.set_id == set_id), None)

    def superseded_by(self, set_id: str) -> str | None:
        """Give the set that replaced a set, None where none did."""
        return next((item.set_id for item in self.decisions if item.supersedes == set_id), None)

    def state(self, set_id: str) -> str:
        """Give what became of a set: a word of the vocabulary ``set_state``."""
        if self.withdrawal(set_id):
            return "withdrawn"
        return "superseded" if self.superseded_by(set_id) else "admitted"

    def with_decision(self, decision: Decision) -> Decisions:
        """Add a decision.

        Raises:
            StudyError: The set id is taken, or what it supersedes is unknown, another
                contributor's, or not in force.
        """
        if self.decision(decision.set_id):
            raise StudyError(
                f"the set {decision.set_id} is already in the study",
                value=decision.set_id,
                next_step="give the new set a name of its own and say which set it supersedes",
            )
        if decision.supersedes is not None:
            self._check_superseded(decision, decision.supersedes)
        return replace(self, decisions=(*self.decisions, decision))

    def with_withdrawal(self, set_id: str, on: dt.date, reason: str) -> Decisions:
        """Add a withdrawal.

        Raises:
            StudyError: The set is unknown or already withdrawn.
        """
        held = self.decision(set_id)
        if held is None:
            raise self._unknown(set_id)
        if self.withdrawal(set_id):
            raise StudyError(f"the set {set_id} is already withdrawn", value=set_id)
        added = Withdrawal(set_id, held.sha256, on, reason)
        return replace(self, withdrawals=(*self.withdrawals, added))

    def _check_superseded(self, decision: Decision, old: str) -> None:
        held = self.decision(old)
        if held is None:
            raise self._unknown(old)
        if held.contributor != decision.contributor:
            raise StudyError(
                f"{decision.set_id} can't supersede {old}: it is another contributor's", value=old
            )
        if self.state(old) != "admitted":
            newer = self.superseded_by(old)
            raise StudyError(
                f"{old} is no longer in force, it is {self.state(old)}",
                value=old,
                next_step=f"supersede {newer} instead" if newer else None,
            )

    def _unknown(self, set_id: str) -> StudyError:
        known = [item.set_id for item in self.decisions]
        return StudyError(
            f"no set {set_id!r} was admitted to this study",
            file="decisions.toml",
            value=set_id,
            next_step=near_names(set_id, known) or None,
        )


def read_decisions(path: Path, contract: Contract | None = None) -> Decisions:
    """Read decisions.toml; a missing file holds no decisions.

    Raises:
        StudyError: A key or value is wrong, a set is named twice, or an entry contradicts an
            earlier one.
    """
    if not path.exists():
        return Decisions()
    contract = contract or load_contract()
    file = read_toml(path)
    file.refuse_unknown(("decisions", "withdrawals"))
    held = Decisions()
    sections = file.parts("decisions")
    refuse_doubles(sections, "set_id")
    for section in sections:
        held = held.with_decision(_decision(section, contract))
    for section in file.parts("withdrawals"):
        held = _with_written_withdrawal(held, section, contract)
    return held


def _decision(section: Section, contract: Contract) -> Decision:
    table = contract.table("study", "waivers")
    row = read_row(section, contract.table("study", "decisions"), also=("waivers",))
    waivers = tuple(Waiver(**read_row(item, table)) for item in section.parts("waivers"))
    return Decision(**row, waivers=waivers)


def _with_written_withdrawal(held: Decisions, section: Section, contract: Contract) -> Decisions:
    row = read_row(section, contract.table("study", "withdrawals"))
    held = held.with_withdrawal(row["set_id"], row["on"], row["reason"])
    if held.withdrawals[-1].sha256 != row["sha256"]:
        section.fail("sha256", "differs from the hash in the set's decision")
    return held


def decisions_text(decisions: Decisions) -> str:
    """Give decisions.toml; the same decisions always give the same text."""
    parts = {
        "decisions": [_plain(item) for item in decisions.decisions],
        "withdrawals": [_plain(item) for item in decisions.withdrawals],
    }
    return _HEADER + tomli_w.dumps({name: rows for name, rows in parts.items() if rows})


def write_decisions(path: Path, decisions: Decisions) -> None:
    """Write decisions.toml beside and rename it into place.

    Raises:
        StudyError: The file holds a decision that the new one lacks or changes.
    """
    _refuse_rewriting(read_decisions(path), decisions, path.name)
    write_text(path, decisions_text(decisions))


def _refuse_rewriting(old: Decisions, new: Decisions, file: str) -> None:
    kept_decisions = new.decisions[: len(old.decisions)] == old.decisions
    if not kept_decisions or new.withdrawals[: len(old.withdrawals)] != old.withdrawals:
        raise StudyError(
            "decisions are added, never changed or taken out",
            file=file,
            next_step="read the file again and add to what it holds",
        )


def _plain(item: Decision | Withdrawal) -> dict[str, Any]:
    row = asdict(item)
    waivers: Iterable[dict[str, Any]] = row.pop("waivers", ())
    held = {name: value for name, value in row.items() if value is not None}
    return held | ({"waivers": list(waivers)} if waivers else {})
