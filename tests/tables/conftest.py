"""Source tables from small inline rows, inserted by the contract's tables."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import duckdb
import pytest

from rigledger.contract import load_contract
from rigledger.study.design import read_design
from rigledger.study.design_rows import design_rows
from rigledger.study.rows import insert_rows
from rigledger.tables.build import DERIVED_TABLES, build_tables

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from rigledger.contract import Contract, Metric
    from rigledger.study.design import Design

Row = dict[str, Any]
TYPES = {
    "string": "varchar",
    "integer": "bigint",
    "number": "double",
    "boolean": "boolean",
    "date": "date",
    "datetime": "timestamp",
}
DAY = dt.date(2026, 10, 5)

STUDY = """
[study]
study = "link-width"
title = "Link width"
question = "Does the change depend on the card?"
setting = "width of the card's link"
runs_required = 3
rounds_planned = 1
rounds_may_be_added = 0
material_change_pct = 3
session_spread_pct = 0.5
spread_prior_pct = 1.0
levels_share_sessions = true
metrics = ["average_fps"]
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
contrast = "off-on"
from_level = "off"
to_level = "on"
"""
PLATFORM = """
[[platforms]]
platform = "{name}"
family = "F"
processor = "P {name}"
board = "B"
memory_kit = "M"
"""
CARD = """
[[cards]]
card = "{name}"
model = "C {name}"
class = "card"
memory_gb = 8
"""
WORKLOAD = """
[[workloads]]
workload = "{name}"
title = "T {name}"
kind = "{kind}"
preset = "high"
graphics_api = "G 1"
passage = "start to end"
passage_length_s = 60
"""
PLAN = """
[[plan]]
resolutions = ["1920x1080"]

[[sentinels]]
workload = "idle"
resolution = "1920x1080"
"""
WORKLOADS = {"dawn": "scene", "mist": "scene", "rain": "scene", "idle": "sentinel"}
PARTS = [
    STUDY,
    *(PLATFORM.format(name=name) for name in ("fast", "slow", "third")),
    *(CARD.format(name=name) for name in ("big", "small")),
    *(WORKLOAD.format(name=name, kind=kind) for name, kind in WORKLOADS.items()),
    PLAN,
]


@dataclass
class Ledger:
    """Source tables in the making."""

    contract: Contract
    design: Design
    rows: dict[str, list[Row]]
    con: duckdb.DuckDBPyConnection = field(init=False)
    built: set[str] = field(default_factory=set)
    _positions: Counter[str] = field(default_factory=Counter)

    def rig(self, rig: str, platform: str = "fast", card: str = "big", **further: object) -> None:
        """Add a rig, and its contributor and set where they are new."""
        contributor = rig.partition(".")[0]
        if not any(held["contributor"] == contributor for held in self.rows["contributors"]):
            self.add("contributors", contributor=contributor, shown_name=contributor.title())
            self.result_set(f"{contributor}.first")
        values = {"platform_unit": "unknown", "card_unit": "unknown", "hardware_from": "unknown"}
        self.add(
            "rigs",
            rig=rig,
            contributor=contributor,
            platform=platform,
            card=card,
            **values | further,
        )

    def result_set(self, set_id: str, state: str = "admitted", **further: object) -> None:
        """Add a result set."""
        values = {"sha256": "0" * 64, "licence": "CC-BY-4.0", "consent_version": "1"}
        self.add(
            "sets",
            set_id=set_id,
            contributor=set_id.partition(".")[0],
            received_on=DAY,
            state=state,
            **values | further,
        )

    def session(
        self,
        rig: str,
        boot: int,
        *,
        round_: int = 1,
        driver: str = "1.0",
        set_id: str | None = None,
    ) -> str:
        """Add a session and its stack, and give the session's name."""
        contributor = rig.partition(".")[0]
        stack = f"{contributor}.stack-{hashlib.sha256(driver.encode()).hexdigest()[:12]}"
        if not any(held["stack"] == stack for held in self.rows["stacks"]):
            self.add(
                "stacks",
                stack=stack,
                contributor=contributor,
                firmware_version="F1",
                driver_version=driver,
                card_firmware_version="none",
                os="O",
                os_build="1",
                profile="default",
            )
        self.add(
            "sessions",
            session=f"{rig}.{boot}",
            set_id=set_id or f"{contributor}.first",
            rig=rig,
            stack=stack,
            boot=boot,
            round=round_,
            started_on=DAY,
        )
        return f"{rig}.{boot}"

    def run(
        self,
        session: str,
        workload: str,
        level: str,
        value: float | None,
        *,
        metric: str = "average_fps",
        recomputed: float | None = None,
        step: float | None = None,
        frames: int = 3600,
        **further: object,
    ) -> str:
        """Add one run with its reported (and recomputed) value, next in its session."""
        self._positions[session] += 1
        position = self._positions[session]
        run = f"{session}.{position:03d}"
        passes = sum(
            (held["session"], held["workload"], held["level"]) == (session, workload, level)
            for held in self.rows["runs"]
        )
        values: Row = {
            "title_build": "1", "resolution": "1920x1080", "level_state": "effective",
            "role": "measured", "pass": passes + 1, "position": position,
        } | further  # fmt: skip
        if recomputed is not None and "capture" not in values:
            values["capture"] = self.capture(run)
        self.add("runs", run=run, session=session, workload=workload, level=level, **values)
        self.measure(run, metric, value, step=step)
        self.measure(run, metric, recomputed, origin="recomputed", frames=frames)
        return run

    def capture(self, name: str) -> str:
        """Add a capture of 3,600 frames in a minute, and give its hash."""
        capture = hashlib.sha256(name.encode()).hexdigest()
        self.add("captures", capture=capture, frames=3600, total_ns=60 * 10**9, state="here")
        return capture

    def measure(
        self,
        run: str,
        metric: str,
        value: float | None,
        *,
        origin: str = "reported",
        step: float | None = None,
        frames: int | None = None,
    ) -> None:
        """Add one value of a run, unless there is none."""
        if value is not None:
            self.add(
                "measurements",
                run=run,
                metric=metric,
                origin=origin,
                value=value,
                reported_step=step,
                frames=frames,
            )

    def cell(
        self, session: str, workload: str, level: str, values: list[float], **further: object
    ) -> None:
        """Add one run per value, one pass after the other."""
        for value in values:
            self.run(session, workload, level, value, **further)

    def add(self, table: str, **values: object) -> None:
        """Add one row; what isn't given is blank."""
        self.rows[table].append(values)

    def build(self, *, threads: int = 2, backwards: bool = False, whole: bool = False) -> Ledger:
        """Insert the rows; the derived tables are built now, or each when a query names it."""
        self.con = duckdb.connect()
        self.built.clear()
        self.con.execute(f"set threads = {threads}")
        for table in self.contract.group("source"):
            columns = ", ".join(f'"{held.name}" {TYPES[held.type]}' for held in table.fields)
            self.con.execute(f"create table {table.name} ({columns})")
            rows = [
                {name: row.get(name) for name in table.field_names} for row in self.rows[table.name]
            ]
            insert_rows(self.con, table.name, rows[::-1] if backwards else rows)
        self._derive(DERIVED_TABLES if whole else ())
        return self

    def select(self, query: str) -> list[tuple[Any, ...]]:
        """Run a query over the tables."""
        self._derive(name for name in DERIVED_TABLES if name in re.findall(r"\w+", query))
        return self.con.execute(query).fetchall()

    def _derive(self, names: Iterable[str]) -> None:
        wanted = [name for name in names if name not in self.built]
        if wanted:
            build_tables(self.con, self.design, self.contract, tables=wanted)
            self.built.update(wanted)


@pytest.fixture
def make_ledger(tmp_path: Path) -> Callable[..., Ledger]:
    """Give a function that starts a ledger; keyword arguments replace keys of ``[study]``."""

    def make(further: str = "", metrics: Iterable[Metric] = (), **study: str) -> Ledger:
        text = "".join(PARTS) + further
        for key, value in study.items():
            line = next(line for line in text.splitlines() if line.startswith(f"{key} = "))
            text = text.replace(line, f"{key} = {value}" if value else "", 1)
        path = tmp_path / "study.toml"
        path.write_text(text, encoding="utf-8")
        held = load_contract()
        more = {metric.metric: metric for metric in metrics}
        contract = replace(held, metrics={**held.metrics, **more})
        design = read_design(path, contract)
        rows: dict[str, list[Row]] = {table.name: [] for table in contract.group("source")}
        return Ledger(contract, design, rows | design_rows(design, contract))

    return make


@pytest.fixture
def ledger(make_ledger: Callable[..., Ledger]) -> Ledger:
    """Give a ledger of a small study with one rig, ``anna.one``."""
    made = make_ledger()
    made.rig("anna.one")
    return made
