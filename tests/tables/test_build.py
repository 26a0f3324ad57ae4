"""What holds for all derived tables: the contract's columns and the same bits every time."""

from __future__ import annotations

import random
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import duckdb
import pytest

from rigledger.claims.model import Claim
from rigledger.claims.printed import understood
from rigledger.errors import StudyError
from rigledger.tables.build import DERIVED_TABLES, FILLERS, build_tables
from rigledger.tables.frames import as_frame, as_stream
from rigledger.tables.workshop import Workshop

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    import polars as pl

    from conftest import Ledger
    from rigledger.contract import Table


# Nothing is recomputed or claimed here, and what needs a second contributor has no rows for one.
EMPTY_FOR_ONE = {"run_metrics", "pooled_changes", "agreement", "claims"}


def populate(ledger: Ledger, contributor: str, seed: int) -> None:
    """Four rigs, three boots each, a new driver, uneven cells, sentinels and both metrics."""
    chance = random.Random(seed)  # noqa: S311 - invented data, not a secret
    for platform in ("fast", "slow"):
        for card in ("big", "small"):
            rig = f"{contributor}.{platform}-{card}"
            ledger.rig(rig, platform, card)
            for boot in (1, 2, 3):
                driver = "2.0" if boot == 3 else "1.0"
                session = ledger.session(rig, boot, round_=boot, driver=driver)
                ledger.run(session, "idle", "off", 300 + chance.gauss(0, 2), role="sentinel")
                for workload in ("dawn", "mist", "rain"):
                    for level in ("off", "on"):
                        for _ in range(chance.choice([1, 2, 3, 3])):
                            value = round(100 * chance.lognormvariate(0, 0.02), 1)
                            run = ledger.run(session, workload, level, value, step=0.1)
                            ledger.measure(
                                run, "low_1pct_rank_fps", value * chance.uniform(0.6, 0.7)
                            )
                ledger.run(
                    session, "idle", "on", 300 + chance.gauss(0, 2), role="sentinel", **{"pass": 2}
                )


def contents(ledger: Ledger, condition: str = "true") -> dict[str, list[tuple[Any, ...]]]:
    return {
        name: ledger.select(f"select * from {name} as held where {condition}")
        for name in DERIVED_TABLES
    }


@pytest.fixture
def populated(make_ledger: Callable[..., Ledger]) -> Ledger:
    ledger = make_ledger()
    populate(ledger, "anna", 1)
    return ledger


def test_the_same_to_the_last_bit_with_one_thread_and_two_and_rows_in_any_order(
    populated: Ledger,
) -> None:
    first = contents(populated.build(threads=1, whole=True))
    assert EMPTY_FOR_ONE == {name for name, rows in first.items() if not rows}
    assert first == contents(populated.build(threads=2, whole=True))
    assert first == contents(populated.build(threads=2, backwards=True, whole=True))


def test_another_contributors_set_moves_nothing_of_this_one_but_q(populated: Ledger) -> None:
    """q of a comparison belongs to a family of one metric and contrast, over everyone."""
    ours = "to_json(held) ->> 'contributor' = 'anna'"
    columns = {
        "comparisons": "* exclude (q_direction)",
        "stack_shift": "* exclude (q, moved)",
    }

    def rows() -> dict[str, list[tuple[Any, ...]]]:
        return {
            name: populated.select(
                f"select {columns.get(name, '*')} from {name} as held where {ours}"
            )
            for name in DERIVED_TABLES
            if name not in EMPTY_FOR_ONE
        }

    populated.build(whole=True)
    before = rows()
    assert all(before.values())
    populate(populated, "bea", 2)
    populated.build(whole=True)
    assert before == rows()


def test_columns_are_the_contracts_and_rows_are_ordered_by_key(populated: Ledger) -> None:
    populated.build(whole=True)
    for name in DERIVED_TABLES:
        table = populated.contract.wide("derived", name)
        held = [row[0] for row in populated.con.execute(f"describe {name}").fetchall()]
        assert list(table.field_names) == held
        keys = populated.select(f"select {', '.join(table.primary_key)} from {name}")
        assert sorted(set(keys)) == keys


def test_no_published_number_is_nan_or_infinite(populated: Ledger) -> None:
    populated.build(whole=True)
    for name in DERIVED_TABLES:
        numbers = [
            held.name
            for held in populated.contract.wide("derived", name).fields
            if held.type == "number"
        ]
        for column in numbers:
            assert [] == populated.select(f"select * from {name} where not isfinite({column})")


def test_an_empty_study_gives_empty_tables(make_ledger: Callable[..., Ledger]) -> None:
    ledger = make_ledger()
    assert {name: [] for name in DERIVED_TABLES} == contents(ledger.build(whole=True))


def test_one_table_can_be_built_alone(populated: Ledger) -> None:
    whole = contents(populated.build(whole=True))
    populated.con.execute("drop table overall")
    populated.con.execute("drop table cells")
    build_tables(populated.con, populated.design, populated.contract, tables=["overall"])
    assert whole["overall"] == populated.select("from overall")
    names = {row[0] for row in populated.con.execute("show tables").fetchall()}
    assert "cells" not in names
    assert [] == populated.select("from duckdb_schemas() where schema_name = 'work'")


def test_a_misspelt_table_is_refused_with_the_nearest_name(populated: Ledger) -> None:
    with pytest.raises(StudyError, match="did you mean 'comparisons'") as caught:
        build_tables(
            populated.build().con, populated.design, populated.contract, tables=["comparison"]
        )
    assert caught.value.value == "comparison"


CLAIMS = [
    Claim("c1", "Up to 3 % faster.", "change", printed=understood("up to 3 %"), direction="gain"),
]


@dataclass(kw_only=True)
class Elsewhere(Workshop):
    """Keeps what is made between in a database of its own; the other holds what is published."""

    other: duckdb.DuckDBPyConnection = field(default_factory=duckdb.connect)

    @contextmanager
    def there(self) -> Iterator[None]:
        held, self.con = self.con, self.other
        yield
        self.con = held

    def make_work(self, name: str, query: str) -> None:
        with self.there():
            super().make_work(name, query)

    def make_derived(self, name: str, query: str) -> None:
        with self.there():
            super().make_derived(name, query)
        self.con.register("made", as_stream(as_frame(self.other, f"from {name}")))
        self.con.execute(f"create or replace table {name} as from made")
        self.con.unregister("made")

    def fill(self, name: str, frame: pl.DataFrame) -> None:
        with self.there():
            super().fill(name, frame)

    def fill_rows(self, name: str, table: Table, rows: Sequence[Mapping[str, object]]) -> None:
        with self.there():
            super().fill_rows(name, table, rows)

    def frame(self, query: str) -> pl.DataFrame:
        self._need_of(query)
        with self.there():
            return super().frame(query)


def test_all_tables_come_out_the_same_where_those_between_are_kept_elsewhere(
    make_ledger: Callable[..., Ledger],
) -> None:
    ledger = make_ledger()
    populate(ledger, "anna", 1)
    populate(ledger, "bea", 2)
    design, contract = ledger.design, ledger.contract
    con, other = ledger.build().con, ledger.build().con
    other.execute("create schema work")
    shop = Elsewhere(con, design, contract, FILLERS, CLAIMS, other=other)
    for name in DERIVED_TABLES:
        shop.derive(contract.wide("derived", name))
    as_ever = ledger.build().con
    build_tables(as_ever, design, contract, claims=CLAIMS)
    for name in DERIVED_TABLES:
        query = f"from {name}"
        assert con.execute(query).fetchall() == as_ever.execute(query).fetchall(), name
    assert con.execute("select claim, verdict from claims").fetchall() == [("c1", "fails")]
