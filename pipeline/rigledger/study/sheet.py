"""Makes the run sheet: what to run on which rig, in which boot and order, and how long it takes.

Card swaps and boots are costly, so the sheet is a split-plot: all of a rig's sessions lie
together, a session is one boot, and only inside a session is the order drawn by lot. A title is
launched once a session; at each of its resolutions the passes follow each other, and where levels
share sessions they take turns, so that one pass of all levels ends before the next begins. Where a
level needs a reboot, the levels' sessions change their order from round to round.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from rigledger.errors import StudyError, near_names
from rigledger.study.model import PlannedCell, PlannedRig
from rigledger.study.sheet_model import (
    MEASURED,
    SENTINEL,
    Sheet,
    SheetBlock,
    SheetRun,
    SheetSession,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from rigledger.study.model import Design, Sentinel

# What has a card that can be swapped; the rest is part of its platform.
_SWAPPED = frozenset({"card", "pair"})
_RoundCell = tuple[str, int, str, str, str]


@dataclass(frozen=True)
class Progress:
    """What has been measured so far, by the tester's own names of rigs.

    Attributes:
        done: Runs per (rig, round, workload, resolution, level).
        not_possible: Cells (rig, workload, resolution, level) that can't be run.
        last_boot: Highest boot counter of each rig.
    """

    done: Mapping[_RoundCell, int] = field(default_factory=dict)
    not_possible: frozenset[tuple[str, str, str, str]] = frozenset()
    last_boot: Mapping[str, int] = field(default_factory=dict)


def rigs_of(
    design: Design, platforms: Sequence[str] = (), cards: Sequence[str] = ()
) -> list[PlannedRig]:
    """Give every platform with every card, named ``platform-card``.

    Args:
        design: The study's design.
        platforms: Platforms wanted; empty for all.
        cards: Cards wanted; empty for all.

    Raises:
        StudyError: A platform or card is not in the study's list.
    """
    all_platforms = [held.platform for held in design.platforms]
    all_cards = [held.card for held in design.cards]
    _refuse_unknown(platforms, all_platforms, "platform")
    _refuse_unknown(cards, all_cards, "card")
    return [
        PlannedRig(f"{platform}-{card}", platform, card)
        for platform in all_platforms
        if not platforms or platform in platforms
        for card in all_cards
        if not cards or card in cards
    ]


def _refuse_unknown(names: Sequence[str], legal: Sequence[str], what: str) -> None:
    for name in names:
        if name not in legal:
            raise StudyError(
                f"the study lists no {what} {name!r}",
                file="study.toml",
                column=f"{what}s",
                value=name,
                next_step=near_names(name, legal) or None,
            )


def passes_per_round(design: Design) -> int:
    """Give the most runs of a cell in one round: the required runs shared out, rounded up."""
    return passes_of_round(design, 1)


def passes_of_round(design: Design, number: int) -> int:
    """Give the runs of a cell in one round: shared out evenly, the first rounds take what is over.

    A round beyond the planned ones gets as many as the first.
    """
    each, over = divmod(design.runs_required, design.rounds_planned)
    return each + (number <= over or (number > design.rounds_planned and over > 0))


def usual_seed(design: Design, rigs: Iterable[PlannedRig]) -> str:
    """Give the seed that holds when none is stated: the same study and rigs always get the same."""
    text = "\x1f".join((design.study, *sorted(rig.rig for rig in rigs)))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:8]


def make_sheet(
    design: Design,
    rigs: Sequence[PlannedRig],
    *,
    seed: str | None = None,
    passes: int | None = None,
    progress: Progress | None = None,
    rounds_apart: bool = False,
) -> Sheet:
    """Make the run sheet of some rigs.

    Args:
        design: The study's design.
        rigs: The rigs to be measured; rigs of which the plan asks nothing are left out.
        seed: Any text; None for `usual_seed`.
        passes: Runs of a cell in each round; None for the required runs, shared out.
        progress: What has been measured; the sheet then holds what remains.
        rounds_apart: Whether each rig is set up anew for each round: more swaps, and a swap's own
            effect is seen.

    Returns:
        The sheet; it holds the required runs of each planned cell over the planned rounds, less
        what was measured.

    Raises:
        StudyError: Two rigs have the same name.
    """
    names = [rig.rig for rig in rigs]
    for rig in names:
        if names.count(rig) > 1:
            raise StudyError("two rigs have the same name", column="rig", value=rig)
    maker = Maker(
        design,
        seed or usual_seed(design, rigs),
        passes,
        progress or Progress(),
    )
    return Sheet(
        study=design.study,
        seed=maker.seed,
        passes=passes or passes_per_round(design),
        rounds=design.rounds_planned,
        day_hours=design.times.day_hours,
        blocks=tuple(maker.blocks(rigs, rounds_apart=rounds_apart)),
    )


@dataclass
class Maker:
    """Makes blocks and sessions; keeps count of each rig's boots.

    Attributes:
        passes: Runs of a cell in each round; None for the required runs, shared out.
    """

    design: Design
    seed: str
    passes: int | None
    progress: Progress
    boots: dict[str, int] = field(default_factory=dict)

    def blocks(self, rigs: Sequence[PlannedRig], *, rounds_apart: bool) -> Iterable[SheetBlock]:
        """Give the blocks of the whole plan, in order."""
        rounds = range(1, self.design.rounds_planned + 1)
        visits = [[number] for number in rounds] if rounds_apart else [list(rounds)]
        for visit in visits:
            for rig in self.drawn_rigs(rigs):
                cells = self.design.planned_cells([rig])
                sessions = [made for number in visit for made in self.sessions(rig, number, cells)]
                if sessions:
                    swap = self.swap_minutes(rig)
                    yield SheetBlock(rig.rig, rig.platform, rig.card, swap, tuple(sessions))

    def drawn_rigs(self, rigs: Sequence[PlannedRig]) -> list[PlannedRig]:
        """Draw the order of the platforms, and of the cards on each."""
        return sorted(
            rigs, key=lambda rig: (self._lot("platform", rig.platform), self._lot("rig", rig.rig))
        )

    def swap_minutes(self, rig: PlannedRig) -> float:
        """Give the minutes to put a rig's card in; 0 where it is part of the platform."""
        held = rig.card_class or self.design.card_class(rig.card)
        return self.design.times.card_swap_min if held in _SWAPPED else 0.0

    def sessions(
        self, rig: PlannedRig, number: int, cells: Sequence[PlannedCell]
    ) -> list[SheetSession]:
        """Give the sessions of one round on one rig; those with nothing left are left out."""
        made = []
        for levels in self._level_groups(rig, number):
            own = [cell for cell in cells if cell.level in levels]
            runs = self._session_runs(own, levels, number)
            if runs:
                made.append(self._session(rig.rig, number, runs))
        return made

    def _level_groups(self, rig: PlannedRig, number: int) -> list[tuple[str, ...]]:
        """Give the levels of each session of a round, in turn from round to round."""
        names = [level.level for level in self.design.ranked_levels]
        first = self._drawn(names, "level", rig.rig)
        turned = _turned(first, number - 1)
        if self.design.levels_share_sessions:
            return [tuple(turned)]
        return [(held,) for held in turned]

    def _session(self, rig: str, number: int, runs: list[SheetRun]) -> SheetSession:
        boot = self.boots.get(rig, self.progress.last_boot.get(rig, 0)) + 1
        self.boots[rig] = boot
        watched = self._with_sentinels(runs)
        digits = max(3, len(str(len(watched))))
        numbered = tuple(
            replace(run, run=str(place).zfill(digits)) for place, run in enumerate(watched, start=1)
        )
        levels = tuple(dict.fromkeys(run.level for run in numbered))
        boot_minutes = self.design.times.boot_min
        return SheetSession(rig, str(boot), boot, number, levels, boot_minutes, numbered)

    def _session_runs(
        self, cells: Sequence[PlannedCell], levels: Sequence[str], number: int
    ) -> list[SheetRun]:
        names = list(dict.fromkeys(cell.workload for cell in cells))
        runs: list[SheetRun] = []
        rig = cells[0].rig if cells else ""
        for workload in self._drawn(names, "workload", rig, number, *levels):
            own = [cell for cell in cells if cell.workload == workload]
            runs += self._workload_runs(own, levels, number)
        return runs

    def _workload_runs(
        self, cells: Sequence[PlannedCell], levels: Sequence[str], number: int
    ) -> list[SheetRun]:
        resolutions = list(dict.fromkeys(cell.resolution for cell in cells))
        drawn = self._drawn(resolutions, "resolution", number, cells[0].rig, cells[0].workload)
        seen: dict[PlannedCell, int] = {}
        runs: list[SheetRun] = []
        for resolution in drawn:
            for cell in self._passes(cells, resolution, levels, number):
                seen[cell] = seen.get(cell, 0) + 1
                minutes = self._minutes(cell.workload, launch=not runs)
                runs.append(_run(cell, MEASURED, seen[cell], minutes))
        return runs

    def _passes(
        self, cells: Sequence[PlannedCell], resolution: str, levels: Sequence[str], number: int
    ) -> Iterable[PlannedCell]:
        """Give a resolution's passes, the levels taking turns; what was measured is left out."""
        by_level = {cell.level: cell for cell in cells if cell.resolution == resolution}
        passes = self.passes or passes_of_round(self.design, number)
        for place in range(1, passes + 1):
            for level in _turned([held for held in levels if held in by_level], place - 1):
                if self._is_left(by_level[level], number, place):
                    yield by_level[level]

    def _is_left(self, cell: PlannedCell, number: int, place: int) -> bool:
        if (cell.rig, cell.workload, cell.resolution, cell.level) in self.progress.not_possible:
            return False
        key = (cell.rig, number, cell.workload, cell.resolution, cell.level)
        return place > self.progress.done.get(key, 0)

    def _with_sentinels(self, runs: list[SheetRun]) -> list[SheetRun]:
        level = runs[0].level
        start, end = (
            [self._sentinel(held, level, place) for held in self.design.sentinels]
            for place in (1, 2)
        )
        return [*start, *runs, *end]

    def _sentinel(self, held: Sentinel, level: str, place: int) -> SheetRun:
        minutes = self._minutes(held.workload, launch=True)
        cell = PlannedCell("", held.workload, held.resolution, level)
        return _run(cell, SENTINEL, place, minutes)

    def _minutes(self, workload: str, *, launch: bool) -> float:
        held = self.design.workload(workload)
        times = self.design.times
        own = times.launch_min if held.launch_min is None else held.launch_min
        passage = held.passage_length_s / 60
        return passage + times.between_passes_min + (own if launch else 0)

    def _drawn(self, names: Sequence[str], *place: object) -> list[str]:
        return sorted(names, key=lambda name: self._lot(*place, name))

    def _lot(self, *place: object) -> str:
        """Draw a lot for a thing at a place: a hash, so that it is the same on every system."""
        text = "\x1f".join(str(item) for item in (self.seed, *place))
        return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _turned(names: Sequence[str], by: int) -> list[str]:
    """Turn a list round: with two levels every second pass or round starts with the other one."""
    if not names:
        return []
    start = by % len(names)
    return [*names[start:], *names[:start]]


def _run(cell: PlannedCell, role: str, place: int, minutes: float) -> SheetRun:
    return SheetRun("", cell.workload, cell.resolution, cell.level, role, place, minutes)
