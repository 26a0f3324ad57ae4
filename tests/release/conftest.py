"""A small study of our own: two platforms, two cards, two titles, two levels; and its releases."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

import duckdb
import pytest

from rigledger.contract import load_contract
from rigledger.release import rederive
from rigledger.release.write import ReleaseInputs, ReleaseResult, write_release
from rigledger.study.design import read_design
from rigledger.study.design_rows import design_rows
from rigledger.study.rows import insert_rows
from rigledger.tables.build import DERIVED_TABLES
from rigledger.tabular import create_tables

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

STUDY = """
[study]
study = "link-try"
title = "Link width, tried"
question = "Does the narrow link cost frames?"
setting = "width of the card's link"
runs_required = 3
rounds_planned = 1
rounds_may_be_added = 1
material_change_pct = 3
spread_prior_pct = 1.0
levels_share_sessions = true
metrics = ["average_fps", "low_1pct_rank_fps"]
licence = "CC-BY-4.0"
consent_version = "1"
keywords = ["link width"]

[[authors]]
name = "The rigledger maintainers"

[[levels]]
level = "wide"
title = "Wide link"
baseline = true

[[levels]]
level = "narrow"
title = "Narrow link"

[[platforms]]
platform = "brookfield-k4"
family = "brookfield"
processor = "Brookfield K4"
board = "Stanmer One"
memory_kit = "Tindle 2x16"

[[platforms]]
platform = "marsh-e2"
family = "marsh"
processor = "Marsh E2"
board = "Stanmer Two"
memory_kit = "Tindle 2x8"

[[cards]]
card = "velmar-90"
model = "Velmar 90"
class = "card"
memory_gb = 16

[[cards]]
card = "velmar-50"
model = "Velmar 50"
class = "card"
memory_gb = 6

[[cards]]
card = "velmar-99"
model = "Velmar 99 unannounced"
class = "card"
memory_gb = 32

[[workloads]]
workload = "harbour-dawn"
title = "Harbour, Dawn"
kind = "game"
preset = "high"
graphics_api = "vulkan"
passage = "pier"
passage_start_s = 10
passage_length_s = 60
plausible."1920x1080".average_fps = [20, 400]

[[workloads]]
workload = "tall-grass"
title = "Tall Grass"
kind = "game"
preset = "high"
graphics_api = "vulkan"
passage = "meadow"
passage_length_s = 45

[[plan]]
resolutions = ["1920x1080"]
cards = ["velmar-90", "velmar-50"]

[[plan]]
resolutions = ["3840x2160"]
cards = ["velmar-99"]
"""
RIGS = {
    "anna.fast": ("anna", "brookfield-k4", "velmar-90", 160.0),
    "anna.plain": ("anna", "marsh-e2", "velmar-50", 70.0),
    "anna.cross": ("anna", "brookfield-k4", "velmar-50", 75.0),
    "anna.other": ("anna", "marsh-e2", "velmar-90", 130.0),
    "dora.secret": ("dora", "brookfield-k4", "velmar-99", 220.0),
}
CLAIMS = """
[[claims]]
claim = "small-card-loses"
sentence = "With the small card the narrow link costs 12 %."
quantity = "change"
value = "12 % slower"
scope.cards = ["velmar-50"]

[[claims]]
claim = "secret"
sentence = "The unannounced card is unaffected."
quantity = "no_difference"
scope.cards = ["velmar-99"]

[[claims]]
claim = "secret-order"
sentence = "The unannounced card leads."
quantity = "ranking"
order = ["dora.secret", "anna.fast"]
"""
NUDGES = (-0.004, 0.001, 0.003)


@dataclass(frozen=True)
class Source:
    """Source tables of the small study in a fresh connection, and its design.

    Attributes:
        file: Database that holds the tables as they were made; None for tables that may change.
    """

    con: duckdb.DuckDBPyConnection
    design: Any
    file: Path | None = None


def insert(con: duckdb.DuckDBPyConnection, table: str, **row: object) -> None:
    names = ", ".join(f'"{name}"' for name in row)
    marks = ", ".join("?" for _ in row)
    con.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", list(row.values()))


def add_set(con: duckdb.DuckDBPyConnection, set_id: str, embargo: str | None = None) -> None:
    contributor = set_id.split(".", maxsplit=1)[0]
    insert(con, "contributors", contributor=contributor, shown_name=contributor.title())
    insert(
        con, "sets", set_id=set_id, contributor=contributor, received_on="2026-10-20",
        sha256="0" * 64, state="admitted", licence="CC-BY-4.0", consent_version="1",
        embargo_until=embargo,
    )  # fmt: skip
    insert(
        con, "stacks", stack=f"{contributor}.stack-000000000001", contributor=contributor,
        firmware_version="1.20", driver_version="551.10", card_firmware_version="unknown",
        os="Fennel 12", os_build="12.4", memory_speed_mts=6000, profile="default",
    )  # fmt: skip


def add_rig(con: duckdb.DuckDBPyConnection, rig: str, set_id: str) -> None:
    contributor, platform, card, frames = RIGS[rig]
    insert(
        con, "rigs", rig=rig, contributor=contributor, platform=platform, card=card,
        platform_unit="a", card_unit="a", hardware_from="bought",
    )  # fmt: skip
    session = f"{rig}.1"
    insert(
        con, "sessions", session=session, set_id=set_id, rig=rig,
        stack=f"{contributor}.stack-000000000001", boot=1, round=1, started_on="2026-10-05",
        started_at="2026-10-05T09:12:00",
    )  # fmt: skip
    insert(con, "facts", session=session, fact="ambient_temperature_degc", value="21", unit="degC")
    number = 0
    for workload, share in (("harbour-dawn", 1.0), ("tall-grass", 0.6)):
        for level in ("wide", "narrow"):
            for place, nudge in enumerate(NUDGES, start=1):
                number += 1
                loss = 0.88 if level == "narrow" and card == "velmar-50" else 1.0
                value = round(frames * share * loss * (1 + nudge), 2)
                cell = {"session": session, "workload": workload, "level": level}
                add_run(con, f"{session}.{number:03}", place, value, **cell)


def add_run(
    con: duckdb.DuckDBPyConnection, run: str, place: int, value: float, **cell: str
) -> None:
    insert(
        con, "runs", run=run, **cell, title_build="1.4",
        resolution="1920x1080", level_state="effective", level_check="read back",
        role="measured", **{"pass": place}, position=place,
    )  # fmt: skip
    for metric, factor in (("average_fps", 1.0), ("low_1pct_rank_fps", 0.7)):
        insert(
            con, "measurements", run=run, metric=metric, origin="reported",
            value=round(value * factor, 2), reported_step=0.01,
        )  # fmt: skip


def make_source(folder: Path) -> Source:
    contract = load_contract()
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    design = read_design(folder / "study.toml", contract)
    con = duckdb.connect()
    create_tables(con, contract.group("source"))
    for table, rows in design_rows(design, contract).items():
        insert_rows(con, table, rows)
    add_set(con, "anna.autumn-1")
    add_set(con, "dora.early", embargo="2027-01-15")
    for rig in RIGS:
        add_rig(con, rig, "dora.early" if rig.startswith("dora") else "anna.autumn-1")
    con.execute(f"ATTACH '{folder / 'made.duckdb'}' AS made")
    con.execute("COPY FROM DATABASE memory TO made")
    con.execute("DETACH made")
    return Source(con, design, folder / "made.duckdb")


@pytest.fixture(scope="session")
def study_text() -> str:
    return STUDY


@pytest.fixture(scope="session")
def made_source(tmp_path_factory: pytest.TempPathFactory) -> Source:
    """The source tables, made once; nothing may change them."""
    return make_source(tmp_path_factory.mktemp("source"))


def copy_of(made: Source) -> Source:
    con = duckdb.connect()
    if made.file is not None:
        con.execute(f"ATTACH '{made.file}' AS made (READ_ONLY)")
        con.execute("COPY FROM DATABASE made TO memory")
        con.execute("DETACH made")
        return Source(con, made.design)
    for table in load_contract().group("source"):
        con.register("held", made.con.sql(f"from {table.name}").to_arrow_table())
        con.execute(f"create table {table.name} as from held")
        con.unregister("held")
    return Source(con, made.design)


@pytest.fixture(scope="session")
def copied() -> Callable[[Source], Source]:
    """Copy source tables, so that a test may change them."""
    return copy_of


@pytest.fixture
def source(made_source: Source) -> Source:
    """A copy of the source tables that a test may change."""
    return copy_of(made_source)


@pytest.fixture(scope="session")
def claims(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The claims of the small study."""
    file = tmp_path_factory.mktemp("claims") / "claims.toml"
    file.write_text(CLAIMS, encoding="utf-8")
    return file


@pytest.fixture(scope="session")
def published(
    made_source: Source, claims: Path, tmp_path_factory: pytest.TempPathFactory
) -> ReleaseResult:
    folder = tmp_path_factory.mktemp("published")
    held = copy_of(made_source)
    held.con.execute("SET threads = 2")
    inputs = ReleaseInputs(released_on=date(2026, 11, 25), claims=claims)
    return write_release(held.con, held.design, load_contract(), inputs, folder / "releases")


@pytest.fixture(scope="session")
def frictionless_said(published: ReleaseResult) -> dict[str, Any]:
    """What frictionless says of the session's release on the command line, without us."""
    code = "import runpy, sys; sys.modules['rigledger'] = None; sys.argv = sys.argv[1:]"
    code += "; runpy.run_module('frictionless', run_name='__main__', alter_sys=True)"
    command = ["frictionless", "validate", "--json", "datapackage.json"]
    done = subprocess.run(  # noqa: S603 - our own interpreter and arguments
        [sys.executable, "-W", "error", "-c", code, *command],
        cwd=published.folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    return {"code": done.returncode, "stderr": done.stderr} | json.loads(done.stdout)


@pytest.fixture
def release_copy(published: ReleaseResult, tmp_path: Path) -> Path:
    return shutil.copytree(published.folder, tmp_path / published.folder.name)


@pytest.fixture
def write(source: Source, claims: Path, tmp_path: Path) -> Callable[..., ReleaseResult]:
    def write_it(**inputs: object) -> ReleaseResult:
        held = replace(ReleaseInputs(released_on=date(2026, 11, 25), claims=claims), **inputs)
        return write_release(
            source.con, source.design, load_contract(), held, tmp_path / "releases"
        )

    return write_it


@pytest.fixture(scope="session")
def derived_before() -> dict[str, dict[str, Any]]:
    """Hold the derived tables that followed from the same sources before."""
    return {}


@pytest.fixture(autouse=True)
def derived_once(
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
    derived_before: dict[str, dict[str, Any]],
) -> None:
    """Let a recheck build the derived tables once for the same rows, design and claims.

    There they are built again for every alteration, of which most leave the sources as they are.
    """
    if request.path.name not in {"test_publish.py", "test_recheck.py"}:
        return
    build = rederive.build_tables

    def once(con: duckdb.DuckDBPyConnection, *given: object, claims: object) -> None:
        rows = [
            con.execute(f"from {table.name}").fetchall()
            for table in load_contract().group("source")
        ]
        key = hashlib.sha256(repr((rows, given, claims)).encode()).hexdigest()
        if key not in derived_before:
            build(con, *given, claims=claims)
            held = {name: con.table(name).to_arrow_table() for name in DERIVED_TABLES}
            derived_before[key] = held
        for name, table in derived_before[key].items():
            con.register("derived_before", table)
            con.execute(f"create or replace table {name} as from derived_before")
            con.unregister("derived_before")

    monkeypatch.setattr(rederive, "build_tables", once)


@pytest.fixture(autouse=True)
def judged_once(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let outside programs judge packages in test_write.py alone: it takes longer than the rest.

    The session's own release is judged too; it is made before this replaces anything.
    """
    if request.path.name != "test_write.py":
        monkeypatch.setattr("rigledger.release.write.refuse_invalid", lambda *_: None)
