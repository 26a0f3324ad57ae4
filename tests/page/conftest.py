"""A small study whose page the tests of this folder read."""

from __future__ import annotations

import tempfile
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.contract import load_contract
from rigledger.page.render import render_page
from rigledger.release.describe import describe
from rigledger.release.meta import ReleaseMeta
from rigledger.release.published import derived_tables, source_tables
from rigledger.release.view import ReleaseView
from rigledger.study.design import read_design
from rigledger.study.design_rows import design_rows
from rigledger.study.rows import insert_rows
from rigledger.tables.build import build_tables
from rigledger.tabular import create_tables

if TYPE_CHECKING:
    from collections.abc import Callable

HOSTILE = "<script>alert(1)</script> =cmd|' \u202e\"&" + "W" * 40
STUDY = """
[study]
study = "tiny"
title = 'A title'
question = "Does it matter?"
setting = "the setting"
runs_required = 3
rounds_planned = 1
rounds_may_be_added = 0
material_change_pct = 3
spread_prior_pct = 1.0
levels_share_sessions = true
metrics = ["average_fps"]
licence = "CC0-1.0"
consent_version = "1"

[[authors]]
name = "Somebody"

[[levels]]
level = "off"
title = "off"
baseline = true

[[levels]]
level = "on"
title = "on"

[[platforms]]
platform = "plat"
family = "fam"
processor = "Processor One"
board = "Board One"
memory_kit = "Kit One"

[[cards]]
card = "card-one"
model = "Card One"
class = "card"
memory_gb = 8

[[cards]]
card = "card-two"
model = "Card Two"
class = "card"
memory_gb = 4

[[workloads]]
workload = "walk"
title = 'Walk'
kind = "scene"
preset = "high"
graphics_api = "vulkan"
passage = "all"
passage_length_s = 30

[[plan]]
resolutions = ["1920x1080"]
"""


def insert(con: duckdb.DuckDBPyConnection, table: str, **row: object) -> None:
    names = ", ".join(f'"{name}"' for name in row)
    marks = ", ".join("?" for _ in row)
    con.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", list(row.values()))


def measured(con: duckdb.DuckDBPyConnection, shown_name: str) -> None:
    insert(con, "contributors", contributor="eva", shown_name=shown_name)
    insert(
        con, "sets", set_id="eva.one", contributor="eva", received_on="2026-10-20",
        sha256="0" * 64, state="admitted", licence="CC0-1.0", consent_version="1",
    )  # fmt: skip
    stack = "eva.stack-000000000000"
    insert(
        con, "stacks", stack=stack, contributor="eva", firmware_version="1", driver_version="2",
        card_firmware_version="3", os="Fennel", os_build="4", profile="default",
    )  # fmt: skip
    insert(
        con, "rigs", rig="eva.rig", contributor="eva", platform="plat", card="card-one",
        platform_unit="a", card_unit="a", hardware_from="bought",
    )  # fmt: skip
    insert(
        con, "sessions", session="eva.rig.1", set_id="eva.one", rig="eva.rig", stack=stack,
        boot=1, round=1, started_on="2026-10-05",
    )  # fmt: skip
    for number, (level, value) in enumerate(
        [("off", 100.0), ("off", 100.4), ("off", 99.7), ("on", 89.8), ("on", 90.2), ("on", 90.1)], 1
    ):
        run = f"eva.rig.1.{number:03}"
        insert(
            con, "runs", run=run, session="eva.rig.1", workload="walk", title_build="1",
            resolution="1920x1080", level=level, level_state="effective", role="measured",
            **{"pass": (number - 1) % 3 + 1}, position=number,
        )  # fmt: skip
        insert(con, "measurements", run=run, metric="average_fps", origin="reported", value=value)


def _make_view(folder: Path, text: str = STUDY, shown_name: str = "Eva") -> ReleaseView:
    contract = load_contract()
    (folder / "study.toml").write_text(text, encoding="utf-8")
    design = read_design(folder / "study.toml", contract)
    con = duckdb.connect()
    create_tables(con, contract.group("source"))
    for table, rows in design_rows(design, contract).items():
        insert_rows(con, table, rows)
    measured(con, shown_name)
    build_tables(con, design, contract)
    create_tables(con, [contract.table("derived", name) for name in ("findings", "changes")])
    published = (*source_tables(contract), *derived_tables(con, contract))
    meta = ReleaseMeta("1.0.0", date(2026, 11, 25), made_with={"rigledger": "0.1.0"})
    results = {"results": [{"name": "a", "met": False}], "met": 0, "expected": 1, "rows": {}}
    suite = {"expectations": [{"name": "a", "table": "runs", "why": "because"}]}
    return ReleaseView(con, design, contract, meta, published, suite, results)


def _page_of(view: ReleaseView) -> str:
    file = {"path": "data/runs.csv", "title": "Runs", "bytes": 10, "hash": "sha256:" + "a" * 64}
    with tempfile.TemporaryDirectory() as empty:
        described = describe(Path(empty), view)
    return render_page(
        view, described | {"resources": [file | {"mediatype": "text/csv", "schema": {}}]}, "b" * 64
    )


@pytest.fixture(scope="session")
def make_view() -> Callable[..., ReleaseView]:
    return _make_view


@pytest.fixture(scope="session")
def page_of() -> Callable[[ReleaseView], str]:
    return _page_of


@pytest.fixture(scope="session")
def study_text() -> str:
    return STUDY


@pytest.fixture(scope="session")
def hostile() -> str:
    return HOSTILE


@pytest.fixture(scope="session")
def view(tmp_path_factory: pytest.TempPathFactory) -> ReleaseView:
    return _make_view(tmp_path_factory.mktemp("page"))


@pytest.fixture(scope="session")
def hostile_view(tmp_path_factory: pytest.TempPathFactory) -> ReleaseView:
    """Give a study whose title, game, processor and contributor are hostile text."""
    text = STUDY
    for place in ("A title", "Walk"):
        text = text.replace(f"'{place}'", "'''" + HOSTILE + "'''")
    return _make_view(tmp_path_factory.mktemp("hostile"), text, HOSTILE)
