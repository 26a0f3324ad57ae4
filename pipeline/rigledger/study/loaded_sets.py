"""The rows of a study's sets in its source tables, whenever each of them was loaded."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier
from rigledger.errors import StudyError
from rigledger.intake.normalise import load_set
from rigledger.study.admitted import check_unaltered
from rigledger.study.rows import insert_rows, scalar
from rigledger.study.set_captures import store_captures

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract import Contract
    from rigledger.remembered import Remembered
    from rigledger.study.decisions import Decision, Decisions
    from rigledger.study.layout import StudyFolder

# Tables of which several sets may hold the same row. The newest set's statement stands.
_SHARED = ("contributors", "platforms", "cards", "rigs", "stacks", "captures")


@dataclass
class LoadedSets:
    """Which sets of a study are in its source tables.

    Attributes:
        con: Connection that holds the source tables of the contract.
        study: The study.
        contract: The contract.
        remembered: What was read from captures with the same bytes.
        rows: Of each set that is loaded, in that order, how many rows each table got.
    """

    con: duckdb.DuckDBPyConnection
    study: StudyFolder
    contract: Contract
    remembered: Remembered
    rows: dict[str, dict[str, int]] = field(default_factory=dict)

    def load(self, decisions: Decisions, *, store: bool = True) -> None:
        """Load the sets in force that are not there yet.

        Args:
            decisions: What was decided on the study's sets.
            store: Whether captures are stored again where the store was not kept, as in a fresh
                checkout.

        Raises:
            StudyError: A set's folder is missing or was altered.
        """
        standing = {item.set_id for item in decisions.in_force} - self.rows.keys()
        for item in newest_first(decisions):
            if item.set_id in standing:
                self._load(item)
                if store:
                    self._restore(item)

    def _load(self, item: Decision) -> None:
        sums = check_unaltered(self.study, item)
        folder = self.study.set_folder(item.set_id)
        loaded = load_set(self.con, folder, self.study.root, self.remembered, sums)
        self.rows[item.set_id] = loaded.rows

    def _restore(self, item: Decision) -> None:
        if self.lacks_captures():
            store_captures(self.study, self.study.set_folder(item.set_id), self.contract)
            self.con.execute(
                "create or replace table captures as select * replace ("
                "case state when 'elsewhere' then 'here' else state end as state) from captures"
            )

    def lacks_captures(self) -> bool:
        """Whether a capture is named that the study's store doesn't hold."""
        query = "select count(*) from captures where state = 'elsewhere'"
        return bool(scalar(self.con, query))

    def join_shared(self, decisions: Decisions) -> None:
        """Have each rig, stack and name there once, as the newest set states it.

        Raises:
            StudyError: A rig is stated with two platforms or cards.
        """
        _refuse_two_hardwares(self.con)
        places = {item.set_id: place for place, item in enumerate(newest_first(decisions))}
        self.con.execute("create temp table sets_by_age (first_row bigint, place bigint)")
        for name in _SHARED:
            key = identifier(self.contract.table("source", name).primary_key[0])
            insert_rows(self.con, "sets_by_age", self._first_rows(name, places))
            self.con.execute(
                f"create or replace table {name} as select t.* from {name} as t"
                " asof join sets_by_age as s on t.rowid >= s.first_row"
                f" qualify row_number() over (partition by t.{key} order by s.place, t.rowid) = 1"
            )
            self.con.execute("truncate sets_by_age")
        self.con.execute("drop table sets_by_age")

    def _first_rows(self, table: str, places: dict[str, int]) -> list[dict[str, int]]:
        """Give where the rows of each set begin in a table, and the set's place by age.

        What the study itself states stands before all sets and goes before them.
        """
        held = scalar(self.con, f"select count(*) from {identifier(table)}")
        first = held - sum(rows[table] for rows in self.rows.values())
        found = [{"first_row": 0, "place": -1}] if first else []
        for set_id, rows in self.rows.items():
            if rows[table]:
                found.append({"first_row": first, "place": places[set_id]})
            first += rows[table]
        return found


def newest_first(decisions: Decisions) -> list[Decision]:
    """Order sets so that of two statements about a shared row the newer set's comes first."""
    by_day = sorted(decisions.decisions, key=lambda item: (item.received_on, item.set_id))
    return by_day[::-1]


def _refuse_two_hardwares(con: duckdb.DuckDBPyConnection) -> None:
    row = con.execute(
        """
        select rig, list_sort(list(distinct platform || ' with ' || card))
        from rigs group by rig having count(distinct (platform, card)) > 1 order by rig limit 1
        """
    ).fetchone()
    if row:
        raise StudyError(
            f"the rig {row[0]} is stated with different hardware: {', '.join(row[1])}",
            column="rig",
            value=row[0],
            next_step="a rig with another card is another rig: it needs a name of its own",
        )
