"""A study's design as typed, frozen objects. Pure data: nothing here reads a file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Iterator


@dataclass(frozen=True, slots=True)
class Level:
    """A level of the studied setting; attributes as in the source table ``levels``."""

    level: str
    title: str
    rank: int
    baseline: bool
    may_vary: bool
    also_changes: str


@dataclass(frozen=True, slots=True)
class Contrast:
    """Two levels that are compared; attributes as in the source table ``contrasts``."""

    contrast: str
    from_level: str
    to_level: str


@dataclass(frozen=True, slots=True)
class Platform:
    """A platform model; attributes as in the source table ``platforms``."""

    platform: str
    family: str
    processor: str
    board: str
    memory_kit: str


@dataclass(frozen=True, slots=True)
class Card:
    """A card model; attributes as in the source table ``cards`` (``class`` is ``card_class``)."""

    card: str
    model: str
    card_class: str
    memory_gb: float | None


@dataclass(frozen=True, slots=True)
class Workload:
    """A workload; attributes as in the source table ``workloads``, and what study.toml adds.

    Attributes:
        metrics: Metrics required of its runs, in order (the study's where it states none).
        launch_min: Minutes to launch it and reach the passage; None for the study's.
    """

    workload: str
    title: str
    kind: str
    preset: str
    graphics_api: str
    passage: str
    passage_start_s: float | None
    passage_length_s: float
    render_scale_pct: float
    frame_generation: str
    frame_cap_fps: float | None
    setting_can_act: bool
    metrics: tuple[str, ...]
    launch_min: float | None


@dataclass(frozen=True, slots=True)
class PlausibleRange:
    """What a metric plausibly reads; attributes as in the source table ``plausible_ranges``."""

    workload: str
    resolution: str
    metric: str
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Times:
    """Minutes for the run sheet, and hours of measuring in a day."""

    card_swap_min: float
    boot_min: float
    launch_min: float
    between_passes_min: float
    day_hours: float


@dataclass(frozen=True, slots=True)
class PlanPart:
    """One part of the plan: which cells are asked of which rigs; None means all."""

    resolutions: tuple[str, ...]
    cards: tuple[str, ...] | None
    card_classes: tuple[str, ...] | None
    platforms: tuple[str, ...] | None
    levels: tuple[str, ...] | None
    workloads: tuple[str, ...] | None

    def asks(self, rig: PlannedRig, card_class: str | None) -> bool:
        """Say whether this part asks anything of a rig."""
        return (
            (self.cards is None or rig.card in self.cards)
            and (self.card_classes is None or card_class in self.card_classes)
            and (self.platforms is None or rig.platform in self.platforms)
        )


@dataclass(frozen=True, slots=True)
class Sentinel:
    """A workload and resolution run at the start and end of each session."""

    workload: str
    resolution: str


@dataclass(frozen=True, slots=True)
class TitleSet:
    """A named set of workloads over which a geometric mean is taken."""

    title_set: str
    workloads: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Relation:
    """Two names that count as one contributor, declared on somebody else's behalf."""

    contributor: str
    counts_with: str
    declared_by: str
    reason: str
    declared_on: dt.date


@dataclass(frozen=True, slots=True)
class Author:
    """Somebody to cite."""

    name: str
    orcid: str | None
    affiliation: str | None


@dataclass(frozen=True, slots=True)
class PlannedRig:
    """A rig as far as planning needs it.

    Attributes:
        rig: Its name: the tester's own or the full id.
        platform: Its platform model.
        card: Its card model.
        card_class: Class of a card that the design doesn't list; None where it does.
    """

    rig: str
    platform: str
    card: str
    card_class: str | None = None


@dataclass(frozen=True, slots=True, order=True)
class PlannedCell:
    """A cell that the study asks of a rig."""

    rig: str
    workload: str
    resolution: str
    level: str


@dataclass(frozen=True, slots=True)
class Design:
    """What a study asks: study.toml, read and checked.

    Attributes are the keys of study.toml; ``session_spread_pct`` and ``spread_prior_pct`` are None
    where the study declares none. ``workloads`` holds sentinels too.
    """

    study: str
    title: str
    question: str
    setting: str
    runs_required: int
    rounds_planned: int
    rounds_may_be_added: int
    material_change_pct: float
    session_spread_pct: float | None
    spread_prior_pct: float | None
    levels_share_sessions: bool
    metrics: tuple[str, ...]
    licence: str
    consent_version: str
    keywords: tuple[str, ...]
    authors: tuple[Author, ...]
    times: Times
    levels: tuple[Level, ...]
    contrasts: tuple[Contrast, ...]
    platforms: tuple[Platform, ...]
    cards: tuple[Card, ...]
    workloads: tuple[Workload, ...]
    plausible_ranges: tuple[PlausibleRange, ...]
    plan: tuple[PlanPart, ...]
    sentinels: tuple[Sentinel, ...]
    title_sets: tuple[TitleSet, ...]
    relations: tuple[Relation, ...] = ()

    @property
    def baseline(self) -> Level:
        """The level against which changes are stated."""
        return next(level for level in self.levels if level.baseline)

    @property
    def ranked_levels(self) -> tuple[Level, ...]:
        """The levels by rank."""
        return tuple(sorted(self.levels, key=lambda level: level.rank))

    @property
    def all_metrics(self) -> tuple[str, ...]:
        """The study's metrics, then those that only some workloads require, by first use."""
        further = (name for workload in self.workloads for name in workload.metrics)
        return tuple(dict.fromkeys((*self.metrics, *further)))

    @property
    def measured_workloads(self) -> tuple[Workload, ...]:
        """The workloads that a plan without a list means: all but the sentinels."""
        watched = {sentinel.workload for sentinel in self.sentinels}
        return tuple(
            held
            for held in self.workloads
            if held.kind != "sentinel" and held.workload not in watched
        )

    def workload(self, name: str) -> Workload:
        """Give a workload by name; KeyError where there is none."""
        for held in self.workloads:
            if held.workload == name:
                return held
        raise KeyError(name)

    def card_class(self, card: str) -> str | None:
        """Give the class of a card, None where the design doesn't list it."""
        return next((held.card_class for held in self.cards if held.card == card), None)

    def planned_cells(self, rigs: Iterable[PlannedRig]) -> list[PlannedCell]:
        """Give the cells that the study asks of some rigs, without the sentinels.

        Args:
            rigs: The rigs, with platform and card.

        Returns:
            Each cell once: by rig as given, then in the order of the plan's parts, workloads as
            listed in study.toml, resolutions and levels as listed.
        """
        cells = (
            PlannedCell(rig.rig, workload, resolution, level)
            for rig in rigs
            for part in self.plan
            if part.asks(rig, rig.card_class or self.card_class(rig.card))
            for workload, resolution, level in self._cells_of(part)
        )
        return list(dict.fromkeys(cells))

    def _cells_of(self, part: PlanPart) -> Iterator[tuple[str, str, str]]:
        every = tuple(held.workload for held in self.measured_workloads)
        levels = part.levels or tuple(level.level for level in self.ranked_levels)
        for workload in part.workloads or every:
            for resolution in part.resolutions:
                for level in levels:
                    yield workload, resolution, level
