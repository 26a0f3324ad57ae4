"""An announced change: which rigs it touches, and from which version."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.audit.errors import AlreadyCurrentError, StackOrderError, UnknownNameError
from rigledger.errors import near_names

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Sequence

    from rigledger.audit.line import RigLine, StackOnRig


@dataclass(frozen=True, slots=True)
class Change:
    """What became new, and from which day on.

    Attributes:
        versions: Column of ``stacks`` and its new value, each.
        builds: Workload and its new build, each.
        since: The first day with the new version.
    """

    versions: tuple[tuple[str, str], ...]
    builds: tuple[tuple[str, str], ...]
    since: dt.date

    @property
    def control(self) -> bool:
        """Whether nothing changed: a re-test on the same stack, days apart."""
        return not (self.versions or self.builds)

    def __str__(self) -> str:
        """Write it in a line."""
        if self.control:
            return "the same stack"
        named = [*self.versions, *((f"build of {name}", build) for name, build in self.builds)]
        return ", ".join(f"{name} {value}" for name, value in named)


@dataclass(frozen=True, slots=True)
class Touched:
    """A rig that the change touches.

    Attributes:
        line: The rig's line.
        was: Column and old value, for each version that changes here.
        builds: Workload and old build, for each build that changes here.
        goes_back_to: A stack of the line that has all the new versions already.
    """

    line: RigLine
    was: tuple[tuple[str, str | None], ...]
    builds: tuple[tuple[str, str], ...]
    goes_back_to: StackOnRig | None

    @property
    def rig(self) -> str:
        """The rig's name."""
        return self.line.rig


@dataclass(frozen=True, slots=True)
class Announced:
    """A change held against the lines: the rigs it touches, and those it passes over, with why."""

    change: Change
    touched: tuple[Touched, ...]
    passed_over: tuple[tuple[str, str], ...]


def announce(change: Change, lines: Sequence[RigLine], rigs: Sequence[str] = ()) -> Announced:
    """Find the rigs that a change touches.

    Args:
        change: What became new.
        lines: The lines of all rigs.
        rigs: Rigs on which it became new; empty for all.

    Raises:
        UnknownNameError: A rig or title is not in the study.
        AlreadyCurrentError: The new versions are in use on every rig asked for.
        StackOrderError: The change is dated before the stack that it replaces was last used.
    """
    asked = known_lines(lines, rigs)
    if change.control:
        return Announced(change, tuple(Touched(line, (), (), None) for line in asked), ())
    _refuse_unknown_titles(change, asked)
    touched = [_touch(change, line) for line in asked]
    found = tuple(held for held in touched if held.was or held.builds)
    passed = tuple((held.rig, _why_not(change, held.line)) for held in touched if held not in found)
    if not found:
        _refuse_current(change, passed)
    for held in found:
        _refuse_earlier(change, held)
    return Announced(change, found, passed)


def known_lines(lines: Sequence[RigLine], rigs: Sequence[str]) -> list[RigLine]:
    """Give the lines of some rigs; all where none is named.

    Raises:
        UnknownNameError: A rig is not in the study.
    """
    by_name = {line.rig: line for line in lines}
    for rig in rigs:
        if rig not in by_name:
            raise UnknownNameError(
                "the study has no rig of this name",
                column="--rig",
                value=rig,
                next_step=near_names(rig, by_name) or None,
            )
    return [by_name[rig] for rig in dict.fromkeys(rigs)] if rigs else list(lines)


def _refuse_unknown_titles(change: Change, lines: Iterable[RigLine]) -> None:
    run = {held.workload for line in lines for held in line.builds}
    for workload, _ in change.builds:
        if workload not in run:
            raise UnknownNameError(
                "no title of this name was run on these rigs",
                column="--title-build",
                value=workload,
                next_step=near_names(workload, run) or None,
            )


def _touch(change: Change, line: RigLine) -> Touched:
    now = line.current.versions
    was = tuple((name, now[name]) for name, new in change.versions if now[name] != new)
    builds = tuple(
        (workload, held.title_build)
        for workload, new in change.builds
        if (held := line.current_build(workload)) is not None and held.title_build != new
    )
    wanted = {**now, **dict(change.versions)}
    back = [held for held in line.stacks if held.versions == wanted] if was else []
    return Touched(line, was, builds, back[0] if back else None)


def _why_not(change: Change, line: RigLine) -> str:
    if change.versions:
        return f"is on it already, since {line.current.since}"
    names = ", ".join(workload for workload, _ in change.builds)
    return f"runs this build of {names} already, or never ran it"


def _refuse_current(change: Change, passed: Sequence[tuple[str, str]]) -> None:
    rig, why = passed[0] if passed else ("no rig", "has sessions in force")
    more = f" (and {len(passed) - 1} more rigs)" if len(passed) > 1 else ""
    raise AlreadyCurrentError(
        f"nothing changes: {rig} {why}{more}",
        column=", ".join(name for name, _ in (*change.versions, *change.builds)),
        value=", ".join(value for _, value in (*change.versions, *change.builds)),
        next_step="name the new version; without one, rigledger audit shows each rig's line",
    )


def _refuse_earlier(change: Change, touched: Touched) -> None:
    last = touched.line.current
    if change.since < last.until:
        raise StackOrderError(
            f"the new version is dated {change.since}, before the last session of {touched.rig} "
            f"on the stack it replaces ({last.until})",
            column="--since",
            value=str(change.since),
            next_step="name the first day with the new version; if the sessions after it ran on "
            "it already, correct their versions in corrections.toml",
        )
