"""Reads study.toml (and the register it may name) into a checked design."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rigledger.contract import load_contract
from rigledger.errors import StudyError
from rigledger.study.model import (
    Author,
    Card,
    Contrast,
    Design,
    Level,
    PlannedCell,
    PlannedRig,
    PlanPart,
    Platform,
    PlausibleRange,
    Relation,
    Sentinel,
    Times,
    TitleSet,
    Workload,
)
from rigledger.study.register import with_register
from rigledger.study.section import Section, problem_with, read_row, read_toml, refuse_doubles

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from rigledger.contract import Contract, Field

__all__ = [
    "Author",
    "Card",
    "Contrast",
    "Design",
    "Level",
    "PlanPart",
    "PlannedCell",
    "PlannedRig",
    "Platform",
    "PlausibleRange",
    "Relation",
    "Sentinel",
    "Times",
    "TitleSet",
    "Workload",
    "read_design",
]

_PARTS = (
    "study", "authors", "times", "levels", "contrasts", "platforms", "cards", "workloads", "plan",
    "sentinels", "title_sets", "relations", "register",
)  # fmt: skip
_TIMES = {
    "card_swap_min": 25,
    "boot_min": 4,
    "launch_min": 1.5,
    "between_passes_min": 0.5,
    "day_hours": 8,
}
_PLAN_LISTS = ("cards", "card_classes", "platforms", "resolutions", "levels", "workloads")


def read_design(path: Path, contract: Contract | None = None) -> Design:
    """Read a study's design.

    Left out, these hold: a level's rank is its place in the file, ``may_vary`` false,
    ``also_changes`` ``nothing``; without contrasts each other level is compared with the baseline;
    a workload's ``render_scale_pct`` is 100, ``frame_generation`` off, ``setting_can_act`` true
    but for sentinels; without title sets there is one, ``all``; times are 25 minutes a card swap,
    4 a boot, 1.5 a launch, half a minute between passes, 8 hours a day.

    Args:
        path: study.toml.
        contract: The contract; None for this version's.

    Returns:
        The design, every name in it resolved.

    Raises:
        StudyError: The file can't be read, or a key or value in it is wrong: names file, key,
            value and near names.
    """
    contract = contract or load_contract()
    file = with_register(read_toml(path), path, contract)
    file.refuse_unknown(_PARTS)
    return _Reader(file, contract).design()


@dataclass(frozen=True)
class _Reader:
    file: Section
    contract: Contract

    def design(self) -> Design:
        study = self._study()
        levels = self._levels()
        workloads, ranges = self._workloads(study["metrics"])
        names = tuple(held.workload for held in workloads)
        sentinels = self._sentinels(names)
        design = Design(
            **study,
            authors=tuple(Author(**row) for row in self._rows("authors", "study")),
            times=Times(
                **read_row(self.file.part("times"), self._table("study", "times"), defaults=_TIMES)
            ),
            levels=levels,
            contrasts=self._contrasts(levels),
            platforms=tuple(Platform(**row) for row in self._rows("platforms", "source")),
            cards=tuple(_card(row) for row in self._rows("cards", "source")),
            workloads=workloads,
            plausible_ranges=ranges,
            plan=self._plan(levels, names),
            sentinels=sentinels,
            title_sets=self._title_sets(workloads),
            relations=self._relations(),
        )
        self._check_plan(design)
        return design

    def _table(self, group: Any, name: str) -> Any:  # noqa: ANN401 - the contract's own types
        return self.contract.table(group, name)

    def _sections(self, name: str, key: str | None) -> list[Section]:
        sections = self.file.parts(name)
        if key is not None:
            refuse_doubles(sections, key)
        return sections

    def _rows(self, name: str, group: str) -> list[dict[str, Any]]:
        table = self._table(group, name)
        return [read_row(item, table) for item in self._sections(name, table.primary_key[0])]

    def _study(self) -> dict[str, Any]:
        section = self.file.part("study", required=True)
        lists = ("metrics", "keywords")
        row = read_row(section, self._table("study", "study"), lists=lists)
        section.one_of("metrics", self.contract.metrics, what="metric")
        return row | {"keywords": row["keywords"] or ()}

    def _levels(self) -> tuple[Level, ...]:
        sections = self._sections("levels", "level")
        table = self._table("source", "levels")
        usual = {"may_vary": False, "also_changes": "nothing", "baseline": False}
        levels = tuple(
            Level(**read_row(item, table, defaults=usual | {"rank": place}))
            for place, item in enumerate(sections, start=1)
        )
        self._check_levels(levels)
        return levels

    def _check_levels(self, levels: tuple[Level, ...]) -> None:
        if len(levels) < 2:
            self.file.fail("levels", f"a study compares two or more levels, here are {len(levels)}")
        if sum(level.baseline for level in levels) != 1:
            self.file.fail(
                "levels",
                "exactly one level is the baseline",
                next_step="set baseline = true in the level that changes are stated against",
            )
        refuse_doubles(
            [
                Section(self.file.file, f"levels[{n}]", {"rank": held.rank})
                for n, held in enumerate(levels, 1)
            ],
            "rank",
        )

    def _contrasts(self, levels: tuple[Level, ...]) -> tuple[Contrast, ...]:
        sections = self._sections("contrasts", "contrast")
        if not sections:
            return _usual_contrasts(levels)
        table = self._table("source", "contrasts")
        contrasts = tuple(Contrast(**read_row(item, table)) for item in sections)
        names = [level.level for level in levels]
        pairs = set()
        for section, held in zip(sections, contrasts, strict=True):
            section.one_of("from_level", names, what="level")
            section.one_of("to_level", names, what="level")
            if held.from_level == held.to_level:
                section.fail("to_level", "a contrast needs two different levels")
            if (held.from_level, held.to_level) in pairs:
                section.fail("to_level", "these two levels are already compared")
            pairs.add((held.from_level, held.to_level))
        return contrasts

    def _workloads(
        self, metrics: tuple[str, ...]
    ) -> tuple[tuple[Workload, ...], tuple[PlausibleRange, ...]]:
        sections = self._sections("workloads", "workload")
        if not sections:
            self.file.fail("workloads", "a study needs at least one workload")
        workloads = tuple(self._workload(item, metrics) for item in sections)
        ranges = (
            self._ranges(item, held.workload)
            for item, held in zip(sections, workloads, strict=True)
        )
        return workloads, tuple(found for several in ranges for found in several)

    def _workload(self, section: Section, metrics: tuple[str, ...]) -> Workload:
        own = self._table("source", "workloads").with_fields(
            self._table("study", "workload_settings").fields
        )
        usual = {
            "render_scale_pct": 100,
            "frame_generation": "off",
            "setting_can_act": section.held.get("kind") != "sentinel",
        }
        row = read_row(section, own, defaults=usual, lists=("metrics",), also=("plausible",))
        section.one_of("metrics", self.contract.metrics, what="metric")
        return Workload(**row | {"metrics": row["metrics"] or metrics})

    def _ranges(self, section: Section, workload: str) -> Iterable[PlausibleRange]:
        table = self._table("source", "plausible_ranges")
        by_resolution = section.part("plausible")
        for resolution in by_resolution.held:
            problem = problem_with(table.field("resolution"), resolution)
            if problem:
                by_resolution.fail(resolution, problem)
            by_metric = by_resolution.part(resolution)
            by_metric.refuse_unknown(self.contract.metrics)
            for metric in by_metric.held:
                yield PlausibleRange(workload, resolution, metric, *self._bounds(by_metric, metric))

    def _bounds(self, section: Section, metric: str) -> tuple[float, float]:
        held = section.held[metric]
        if not isinstance(held, list) or len(held) != 2:
            section.fail(metric, "a plausible range is two numbers, [least, most]")
        column: Field = self._table("source", "plausible_ranges").field("least")
        for item in held:
            problem = problem_with(column, item)
            if problem:
                section.fail(metric, problem)
        if held[0] >= held[1]:
            section.fail(metric, "the least plausible value must be below the most plausible one")
        return float(held[0]), float(held[1])

    def _sentinels(self, workloads: tuple[str, ...]) -> tuple[Sentinel, ...]:
        table = self._table("study", "sentinels")
        sections = self.file.parts("sentinels")
        for section in sections:
            section.one_of("workload", workloads, what="workload")
        return tuple(Sentinel(**read_row(item, table)) for item in sections)

    def _plan(self, levels: tuple[Level, ...], workloads: tuple[str, ...]) -> tuple[PlanPart, ...]:
        sections = self.file.parts("plan")
        if not sections:
            self.file.fail("plan", "a study needs at least one [[plan]] that names resolutions")
        for section in sections:
            section.one_of("levels", [level.level for level in levels], what="level")
            section.one_of("workloads", workloads, what="workload")
        table = self._table("study", "plan")
        return tuple(PlanPart(**read_row(item, table, lists=_PLAN_LISTS)) for item in sections)

    def _title_sets(self, workloads: tuple[Workload, ...]) -> tuple[TitleSet, ...]:
        every = tuple(held.workload for held in workloads if held.setting_can_act)
        sections = self._sections("title_sets", "title_set")
        table = self._table("study", "title_sets")
        for section in sections:
            section.one_of("workloads", [held.workload for held in workloads], what="workload")
        rows = [read_row(item, table, lists=("workloads",)) for item in sections]
        sets = tuple(TitleSet(row["title_set"], row["workloads"] or every) for row in rows)
        return sets or (TitleSet("all", every),)

    def _relations(self) -> tuple[Relation, ...]:
        table, seen = self._table("study", "relations"), set()
        relations = []
        for section in self.file.parts("relations"):
            held = Relation(**read_row(section, table))
            pair = frozenset((held.contributor, held.counts_with))
            if len(pair) < 2:
                section.fail("counts_with", "a contributor always counts with itself")
            if pair in seen:
                section.fail("counts_with", "these two are already declared to count as one")
            seen.add(pair)
            relations.append(held)
        return tuple(relations)

    def _check_plan(self, design: Design) -> None:
        cards = [held.card for held in design.cards]
        platforms = [held.platform for held in design.platforms]
        for section in self.file.parts("plan"):
            section.one_of("cards", cards, what="card")
            section.one_of("platforms", platforms, what="platform")
        for section, held in zip(self.file.parts("sentinels"), design.sentinels, strict=True):
            if design.workload(held.workload).setting_can_act:
                section.fail(
                    "workload",
                    "a sentinel is a workload on which the setting can't act",
                    next_step="set setting_can_act = false in the workload, or choose another",
                )


def _card(row: dict[str, Any]) -> Card:
    return Card(row["card"], row["model"], row["class"], row["memory_gb"])


def _usual_contrasts(levels: tuple[Level, ...]) -> tuple[Contrast, ...]:
    baseline = next(level.level for level in levels if level.baseline)
    others = sorted((level for level in levels if not level.baseline), key=lambda held: held.rank)
    return tuple(
        Contrast(f"{held.level}-against-{baseline}", baseline, held.level) for held in others
    )


def study_name(path: Path) -> str:
    """Give the name of the study that a study.toml describes, reading no more than that.

    Raises:
        StudyError: The file can't be read or names no study.
    """
    name = read_toml(path).part("study", required=True).held.get("study")
    if not isinstance(name, str):
        raise StudyError("names no study", file=path.name, column="study.study")
    return name
