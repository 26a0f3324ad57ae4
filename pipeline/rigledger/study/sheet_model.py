"""A run sheet as data: blocks between card swaps, sessions between boots, runs in their order."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain

MEASURED = "measured"
SENTINEL = "sentinel"


@dataclass(frozen=True, slots=True)
class SheetRun:
    """One run to be made.

    Attributes:
        run: Its number in the session, three digits or more.
        pass_number: Which time the cell is run in this session, from 1.
        minutes: Passage, pause and, where the title has to be launched first, its launch.
        reason: Why it is asked for again; None for a run of the plan.
    """

    run: str
    workload: str
    resolution: str
    level: str
    role: str
    pass_number: int
    minutes: float
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class SheetSession:
    """One boot and what is run in it.

    Attributes:
        levels: Levels in force in it, in the order of their first use.
        boot_minutes: Minutes until the rig is ready.
    """

    rig: str
    session: str
    boot: int
    round: int
    levels: tuple[str, ...]
    boot_minutes: float
    runs: tuple[SheetRun, ...]

    @property
    def minutes(self) -> float:
        """Boot and runs."""
        return self.boot_minutes + sum(run.minutes for run in self.runs)


@dataclass(frozen=True, slots=True)
class SheetBlock:
    """What is done on one rig without opening its case.

    Attributes:
        swap_minutes: Minutes to put the card in; 0 where there is nothing to swap.
    """

    rig: str
    platform: str
    card: str
    swap_minutes: float
    sessions: tuple[SheetSession, ...]

    @property
    def minutes(self) -> float:
        """Swap and sessions."""
        return self.swap_minutes + sum(session.minutes for session in self.sessions)


@dataclass(frozen=True, slots=True)
class DayPart:
    """One session in the plan of days; times are minutes of measuring since the day's start."""

    day: int
    block: SheetBlock
    session: SheetSession
    swap_first: bool
    starts: float
    ends: float


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole run sheet.

    Attributes:
        seed: What the order was drawn from; the same seed gives the same sheet.
        passes: Most runs that a cell gets in a round.
        rounds: Rounds planned.
        day_hours: Hours of measuring in a day.
    """

    study: str
    seed: str
    passes: int
    rounds: int
    day_hours: float
    blocks: tuple[SheetBlock, ...]

    @property
    def sessions(self) -> tuple[SheetSession, ...]:
        """All sessions in order."""
        return tuple(chain.from_iterable(block.sessions for block in self.blocks))

    @property
    def runs(self) -> tuple[SheetRun, ...]:
        """All runs in order."""
        return tuple(chain.from_iterable(session.runs for session in self.sessions))

    @property
    def minutes(self) -> float:
        """Minutes in all."""
        return sum(block.minutes for block in self.blocks)

    @property
    def days(self) -> tuple[DayPart, ...]:
        """The sessions laid out over days: none is cut, a swap stays with the session behind it.

        A session longer than a day has a day of its own.
        """
        parts: list[DayPart] = []
        day, clock, most = 1, 0.0, self.day_hours * 60
        for block in self.blocks:
            for place, session in enumerate(block.sessions):
                needs = session.minutes + (block.swap_minutes if place == 0 else 0)
                if clock and clock + needs > most:
                    day, clock = day + 1, 0.0
                parts.append(DayPart(day, block, session, place == 0, clock, clock + needs))
                clock += needs
        return tuple(parts)

    @property
    def counts(self) -> dict[str, int | float]:
        """What the sheet promises, counted."""
        runs, sessions = self.runs, self.sessions
        measured = [run for run in runs if run.role == MEASURED]
        cells = {
            (session.rig, run.workload, run.resolution, run.level)
            for session in sessions
            for run in session.runs
            if run.role == MEASURED
        }
        return {
            "rigs": len({block.rig for block in self.blocks}),
            "card_swaps": sum(block.swap_minutes > 0 for block in self.blocks),
            "boots": len(sessions),
            "cells": len(cells),
            "runs": len(runs),
            "measured_runs": len(measured),
            "sentinel_runs": len(runs) - len(measured),
            "days": max((part.day for part in self.days), default=0),
            "hours": round(self.minutes / 60, 2),
        }
