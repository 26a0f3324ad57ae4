"""corrections.toml: declared corrections, read and checked for what can be seen without the data.

An entry has the columns of the source table ``corrections``. ``was`` is the guard: a correction
whose row does not hold that value refuses loudly, so that it can't go on being applied after the
set was mended. Left out, ``was`` says that the cell is blank (for exclude and mark: that nothing
is said).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rigledger.contract import load_contract
from rigledger.errors import near_names
from rigledger.study.section import Section, read_row, read_toml, refuse_doubles

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from rigledger.contract import Contract, Field

VALUE = "value"
# Keys and what hangs on them: another value there would be another row, not a corrected one.
_RUN_KEYS = frozenset({"run", "session", "capture", "position"})
_SESSION_KEYS = frozenset({"session", "set_id", "rig", "stack"})
_STACK_KEYS = frozenset({"stack", "contributor"})


@dataclass(frozen=True, slots=True)
class Correction:
    """One declared correction; attributes as in the source table ``corrections``."""

    correction: str
    session: str
    run: str | None
    metric: str | None
    action: str
    field: str | None
    was: str | None
    becomes: str | None
    reason: str
    decided_on: dt.date
    status: str

    @property
    def applies(self) -> bool:
        """Whether the correction is in force and changes something."""
        return self.status == "applied" and self.action != "mark"

    def overlaps(self, other: Correction) -> bool:
        """Whether two corrections touch the same cell."""
        same_place = self.session == other.session and (
            self.run == other.run or self.run is None or other.run is None
        )
        return same_place and self._what == other._what

    @property
    def _what(self) -> tuple[str | None, str | None]:
        if self.action == "exclude":
            return ("exclude", self.metric)
        return (self.field, self.metric)


def read_corrections(path: Path, contract: Contract | None = None) -> tuple[Correction, ...]:
    """Read corrections.toml; a missing file declares none.

    Args:
        path: The file.
        contract: The contract; None for this version's.

    Returns:
        The corrections in the order of the file.

    Raises:
        StudyError: A key or value is wrong, an action lacks what it needs, or two that are in
            force conflict.
    """
    if not path.exists():
        return ()
    contract = contract or load_contract()
    file = read_toml(path)
    file.refuse_unknown(("corrections",))
    sections = file.parts("corrections")
    refuse_doubles(sections, "correction")
    corrections = tuple(_correction(section, contract) for section in sections)
    _refuse_conflicts(sections, corrections)
    return corrections


def correctable(contract: Contract, correction: Correction) -> dict[str, tuple[str, Field]]:
    """List the fields that a correction of this scope may name: field to source table and field."""
    if correction.metric is not None:
        table = contract.table("source", "measurements")
        return {VALUE: ("measurements", table.field(VALUE))}
    places: tuple[tuple[str, frozenset[str]], ...] = (("runs", _RUN_KEYS),)
    if correction.run is None:
        places = (("runs", _RUN_KEYS), ("stacks", _STACK_KEYS), ("sessions", _SESSION_KEYS))
    return {
        column.name: (name, column)
        for name, keys in places
        for column in contract.table("source", name).fields
        if column.name not in keys
    }


def _correction(section: Section, contract: Contract) -> Correction:
    table = contract.table("source", "corrections")
    usual = {"field": VALUE} if _is_value(section) else {}
    correction = Correction(**read_row(section, table, defaults=usual))
    section.one_of("metric", contract.metrics, what="metric")
    _check_scope(section, correction)
    if correction.action in {"replace", "relabel"}:
        _check_field(section, correction, contract)
    elif correction.field or correction.becomes:
        key = "field" if correction.field else "becomes"
        section.fail(key, f"{correction.action} changes no field")
    return correction


def _is_value(section: Section) -> bool:
    return section.held.get("action") == "replace" and "metric" in section.held


def _check_scope(section: Section, correction: Correction) -> None:
    if correction.metric is not None and correction.run is None:
        section.fail("metric", "a metric is corrected in one run", next_step="name the run")
    if correction.run is not None and correction.run.rpartition(".")[0] != correction.session:
        section.fail("run", f"is no run of the session {correction.session}")
    if correction.metric is not None and correction.action == "relabel":
        section.fail("action", "a value is replaced, not relabelled", next_step="write replace")


def _check_field(section: Section, correction: Correction, contract: Contract) -> None:
    legal = correctable(contract, correction)
    if correction.field is None:
        section.fail("field", f"{correction.action} names the field that changes")
    if correction.field not in legal:
        near = near_names(correction.field, legal)
        section.fail("field", "is no field that can be corrected here", next_step=near)
    if correction.becomes is None:
        step = "to leave a run out, use the action exclude"
        section.fail("becomes", "is required", next_step=step)
    if correction.becomes == correction.was:
        section.fail("becomes", "is what it was")


def _refuse_conflicts(sections: list[Section], corrections: tuple[Correction, ...]) -> None:
    for place, (section, held) in enumerate(zip(sections, corrections, strict=True)):
        for earlier in corrections[:place]:
            if held.applies and earlier.applies and held.overlaps(earlier):
                section.fail(
                    "correction",
                    f"conflicts with {earlier.correction!r}: both change the same cell",
                    next_step='give one of them status = "rejected", or join them into one',
                )


def correction_rows(corrections: tuple[Correction, ...]) -> list[dict[str, Any]]:
    """Give the rows of the source table ``corrections``, ordered by name."""
    ordered = sorted(corrections, key=lambda held: held.correction)
    return [{name: getattr(held, name) for name in Correction.__slots__} for held in ordered]
