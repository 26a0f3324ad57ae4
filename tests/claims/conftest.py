"""Rows of derived tables from a few numbers: two platforms, two cards, one contributor."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pytest

from rigledger.claims.evidence import Evidence
from rigledger.contract import load_contract
from rigledger.study.design import read_design

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.study.model import Design

Row = dict[str, Any]

STUDY = """
[study]
study = "link"
title = "Link"
question = "Does it depend?"
setting = "width of the link"
runs_required = 3
rounds_planned = 1
rounds_may_be_added = 0
material_change_pct = 3
levels_share_sessions = true
metrics = ["average_fps", "low_1pct_rank_fps"]
licence = "CC-BY-4.0"
consent_version = "1"

[[authors]]
name = "The rigledger maintainers"

[[levels]]
level = "off"
title = "narrow"
baseline = true

[[levels]]
level = "on"
title = "wide"

[[contrasts]]
contrast = "on-off"
from_level = "off"
to_level = "on"

[[plan]]
resolutions = ["1920x1080"]

[[title_sets]]
title_set = "both"
workloads = ["dawn", "mist"]
"""
PARTS = """
[[platforms]]
platform = "{name}"
family = "F"
processor = "Processor {name}"
board = "B"
memory_kit = "M"

[[cards]]
card = "c{name}"
model = "Card {name}"
class = "card"
memory_gb = 8
"""
WORKLOAD = """
[[workloads]]
workload = "{name}"
title = "{title}"
kind = "game"
preset = "high"
graphics_api = "G 1"
passage = "start to end"
passage_length_s = 60
"""


@dataclass
class Bench:
    """Rows in the making; ``rigs`` are platform and card."""

    better: str = "higher"
    changes: list[Row] = field(default_factory=list)
    unmeasured: list[Row] = field(default_factory=list)
    overall: list[Row] = field(default_factory=list)
    factors: list[Row] = field(default_factory=list)
    rigs: list[Row] = field(default_factory=list)
    values: list[Row] = field(default_factory=list)

    def change(self, value: float, half: float = 1.0, **further: object) -> Row:
        """Add a change with a normal 95 % interval of about ± half, in per cent."""
        inside = half * 1.6448536 / 1.959964
        size = "material" if abs(value) - half > 3 else "unsettled"
        row: Row = {
            "rig": "anna.p1-c1", "stack": "s", "workload": "dawn", "title_build": "1",
            "resolution": "1920x1080", "contrast": "on-off", "metric": "average_fps",
            "contributor": "anna", "platform": "p1", "card": "c1", "change_pct": value,
            "low_95_pct": value - half, "high_95_pct": value + half,
            "high_90_pct": value + inside, "high_decision_pct": value + half,
            "size": "immaterial" if abs(value) + inside < 3 else size,
            "no_verdict": None, "stale": False,
        }  # fmt: skip
        row |= further
        row |= {"rig": f"{row['contributor']}.{row['platform']}-{row['card']}"}
        self.changes.append(row)
        return row

    def cross(self, values: dict[str, float], half: float = 1.0, **further: object) -> None:
        """Add a change on each of some rigs, named ``p1-c1``."""
        for rig, value in values.items():
            platform, card = rig.split("-")
            self.change(value, half, platform=platform, card=card, **further)

    def missing(self, **further: object) -> None:
        """Add a planned cell without a comparison."""
        keys = ("workload", "resolution", "contrast", "metric", "contributor", "platform", "card")
        whole = Bench().change(0.0, **further)
        row = {name: whole[name] for name in (*keys, "rig")}
        self.unmeasured.append(row | {"why": "not_measured"})

    def factor(self, factor: str, **further: object) -> None:
        """Add a row of factor_effects; depends on nothing where nothing else is said."""
        row: Row = {
            "contributor": "anna", "workload": "dawn", "resolution": "1920x1080",
            "contrast": "on-off", "metric": "average_fps", "factor": factor, "extent_pct": 1.0,
            "extent_low_95_pct": 0.0, "extent_high_95_pct": 4.0, "p": 0.5, "q": 0.5,
            "depends": False, "place": None, "not_estimable": None,
        }  # fmt: skip
        self.factors.append(row | further)

    def mean(self, value: float, half: float = 1.0, **further: object) -> None:
        """Add a row of overall."""
        row: Row = {
            "rig": "anna.p1-c1", "resolution": "1920x1080", "contrast": "on-off",
            "metric": "average_fps", "title_set": "both", "contributor": "anna",
            "platform": "p1", "card": "c1", "titles": 2, "titles_missing": 0,
            "change_pct": value, "these_low_95_pct": value - half,
            "these_high_95_pct": value + half, "titles_used": "dawn mist",
        }  # fmt: skip
        self.overall.append(row | further)

    def between(
        self, one: str, other: str, value: float, half: float = 1.0, **further: object
    ) -> None:
        """Add how much faster the second rig is."""
        row: Row = {
            "from_rig": one, "to_rig": other, "workload": "all-shared", "resolution": "1920x1080",
            "level": "off", "metric": "average_fps", "contributor": "anna",
            "difference_pct": value, "low_95_pct": value - half, "high_95_pct": value + half,
            "differs_in": None,
        }  # fmt: skip
        self.rigs.append(row | further)

    def value(self, value: float, half: float = 1.0, **further: object) -> None:
        """Add the value of a cell."""
        row: Row = {
            "rig": "anna.p1-c1", "stack": "s", "workload": "dawn", "title_build": "1",
            "resolution": "1920x1080", "level": "off", "metric": "average_fps",
            "contributor": "anna", "platform": "p1", "card": "c1", "unit": "fps",
            "geometric_mean": value, "low_95": value - half, "high_95": value + half,
        }  # fmt: skip
        self.values.append(row | further)

    def evidence(self) -> Evidence:
        """Give the rows as claims are held against them."""
        known = (*self.changes, *self.unmeasured, *self.values)
        names = ("contributor", "platform", "card", "rig", "resolution")
        legal = {key: frozenset(str(row[key]) for row in known) for key in names}
        rigs = {row[key] for row in self.rigs for key in ("from_rig", "to_rig")}
        return Evidence(
            self.changes, self.unmeasured, self.overall, self.factors, self.rigs, self.values,
            material_change_pct=3.0, better={"average_fps": self.better},
            title_sets={"both": ("dawn", "mist")}, can_act=frozenset({"dawn", "mist", "rain"}),
            levels={"on-off": ("off", "on")}, baseline="off",
            legal=legal | {"rig": legal["rig"] | rigs},
        )  # fmt: skip


@pytest.fixture
def bench() -> Bench:
    return Bench()


@pytest.fixture(scope="session")
def study_text() -> str:
    titles = {"dawn": "Dawn", "mist": "Mist", "rain": "Rain"}
    text = STUDY + "".join(PARTS.format(name=name) for name in ("p1", "p2"))
    return text + "".join(WORKLOAD.format(name=name, title=title) for name, title in titles.items())


@pytest.fixture(scope="session")
def design(tmp_path_factory: pytest.TempPathFactory, study_text: str) -> Design:
    """A design with the names that the tests use."""
    place: Path = tmp_path_factory.mktemp("study") / "study.toml"
    place.write_text(study_text, encoding="utf-8")
    return read_design(place, load_contract())
