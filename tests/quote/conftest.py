"""A few rows of derived tables, so that every figure of these tests can be read off here."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.charts.source import Source
from rigledger.claims.model import BROADER, FAILS, HOLDS, NOT_SETTLED, Claim, Judged
from rigledger.claims.printed import understood
from rigledger.contract import load_contract
from rigledger.quote.figures import Ledger
from rigledger.study.design import read_design

if TYPE_CHECKING:
    from collections.abc import Mapping

STUDY = Path(__file__).resolve().parents[2] / "datasets" / "link-width" / "study.toml"
TABLES = (Path(__file__).parent / "tables.sql").read_text(encoding="utf-8")


def claim(name: str, verdict: str, printed: str, **judged: object) -> Judged:
    """Give a judged claim that prints a value."""
    stated = Claim(name, f"It is {printed}.", "change", printed=understood(printed))
    held = {"finding": "other_figure", "because": "the interval excludes it", "unit": "%"} | judged
    return Judged(stated, verdict, **held)  # type: ignore[arg-type]


def judged_claims() -> Mapping[str, Judged]:
    """Give a claim of each verdict."""
    held = (
        claim("loss", HOLDS, "up to 12 % slower", value=-11.64, low=-12.91, high=-10.34),
        claim("twice", HOLDS, "twice", value=98.0, low=90.0, high=105.0),
        claim("wrong", FAILS, "20 % slower", value=-11.64, low=-12.91, high=-10.34),
        claim(
            "broad", BROADER, "12 % slower", value=-11.64,
            narrowest="With the small card it is 12 % slower.",
        ),
        claim("open", NOT_SETTLED, "3 % slower", value=-2.0),
    )  # fmt: skip
    return {item.claim.claim: item for item in held}


@pytest.fixture(scope="session")
def source() -> Source:
    contract = load_contract()
    con = duckdb.connect()
    con.execute(TABLES)
    return Source(con, read_design(STUDY, contract), contract)


@pytest.fixture
def ledger(source: Source) -> Ledger:
    return Ledger(source, judged_claims)
