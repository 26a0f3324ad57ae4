"""What a contributor's measuring has come to: what is settled, what is doubtful, what is left."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.contract import load_contract
from rigledger.contract.sql_text import literal
from rigledger.database import connect
from rigledger.errors import StudyError
from rigledger.garbage import searched_later
from rigledger.remembered import Remembered
from rigledger.study.ahead import load_ahead
from rigledger.study.housekeeping import keep_out_of_versions
from rigledger.study.load import load_source
from rigledger.study.remaining import planned_rigs, progress_of
from rigledger.study.sheet import make_sheet
from rigledger.study.sheet_rows import hours_text
from rigledger.tables.again import cells_to_measure_again
from rigledger.tables.analysis import STATISTICS
from rigledger.tables.build import build_tables
from rigledger.tables.kept import kept_study

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    import duckdb

    from rigledger.contract import Contract
    from rigledger.study.ahead import LoadedAhead
    from rigledger.study.layout import StudyFolder
    from rigledger.study.model import Design
    from rigledger.tables.write import Built

_SQL = Path(__file__).parent / "sql" / "so_far"
_OTHERS = (
    ("measurements", "run"), ("runs", "run"), ("sessions", "rig"), ("rigs", "rig"),
)  # fmt: skip
_LISTED = 5
# Tables of so many bytes in all its sets are about a thousand runs: all that follows from them is
# built in little more time than what follows from one contributor's.
_SMALL_BYTES = 200_000
# Of so few rows, handing some to a second thread takes longer than doing them.
_THREADS = 1


@dataclass(frozen=True, slots=True)
class SettledSoFar:
    """How many of the current comparisons in one metric are settled.

    Attributes:
        metric: The metric.
        comparisons: All that have both levels.
        losses: Material losses.
        gains: Material gains.
        immaterial: Those shown to be within the material change.
        unsettled: Those whose size is not settled.
        no_verdict: Those that get no verdict.
    """

    metric: str
    comparisons: int
    losses: int
    gains: int
    immaterial: int
    unsettled: int
    no_verdict: int

    @property
    def settled(self) -> int:
        """How many need no further run."""
        return self.losses + self.gains + self.immaterial


@dataclass(frozen=True, slots=True)
class SoFar:
    """What a contributor's measuring has come to.

    Attributes:
        contributor: Whose.
        settled: A row per metric.
        doubtful: Cells with doubtful runs, a line each.
        again: How many cells are worth measuring again.
        runs_planned: Measured runs that the plan asks of the rigs begun.
        runs_left: How many of them are left.
        minutes_left: How long these take, swaps and boots included.
        not_begun: Pairs of platform and card of which nothing is measured.
    """

    contributor: str
    settled: tuple[SettledSoFar, ...]
    doubtful: tuple[str, ...]
    again: int
    runs_planned: int
    runs_left: int
    minutes_left: float
    not_begun: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Give it as plain JSON values."""
        return asdict(self) | {"minutes_left": round(self.minutes_left, 1)}


def so_far_of(
    study: StudyFolder, contributors: Iterable[str], ahead: LoadedAhead | None = None
) -> dict[str, SoFar]:
    """Say what the measuring of some contributors to a study has come to.

    Of a small study all tables are built, and kept for whoever asks for them next.

    Args:
        study: The study.
        contributors: Whose.
        ahead: What `ahead_of` loaded.
    """
    contract = load_contract()
    with searched_later():
        built = _all_tables(study, ahead)
        if built is None:
            return {name: _alone(study, name, contract) for name in contributors}
        with built.con as con:
            return {name: _reached(con, built.design, name) for name in contributors}


def ahead_of(study: StudyFolder) -> LoadedAhead | None:
    """Load what `so_far_of` needs of a study to which a set is being added; None of a large one."""
    return load_ahead(study, threads=_THREADS) if _is_small(study) else None


def _is_small(study: StudyFolder) -> bool:
    listed = (path.stat().st_size for path in study.sets.glob("*/*") if path.is_file())
    return sum(listed) <= _SMALL_BYTES


def _all_tables(study: StudyFolder, ahead: LoadedAhead | None) -> Built | None:
    """Give a study's tables; None for a large one, or where a file of it keeps them from being."""
    if not _is_small(study):
        return None
    try:
        return kept_study(study, threads=_THREADS, ahead=ahead)
    except StudyError:
        return None  # a study whose claims are misspelt takes sets in all the same


def _alone(study: StudyFolder, contributor: str, contract: Contract) -> SoFar:
    with connect() as con:
        design = load_source(study, con, contract, contributor=contributor)
        remembered = Remembered(study.kept / STATISTICS)
        reached = so_far(con, design, contract, contributor, remembered)
    if keep_out_of_versions(study):
        remembered.keep(forget=False)
    return reached


def so_far(
    con: duckdb.DuckDBPyConnection,
    design: Design,
    contract: Contract,
    contributor: str,
    remembered: Remembered | None = None,
) -> SoFar:
    """Say what a contributor's measuring has come to, from their own runs alone.

    Only the tables that the answer needs are built; nobody's statistics depend on another's runs.

    Args:
        con: Filled by ``load_source``; other contributors' runs are taken out of it.
        design: The study's design.
        contract: The contract.
        contributor: Whose.
        remembered: What the statistics came to for the same runs; None computes everything.
    """
    start = literal(f"{contributor}.")
    for table, column in _OTHERS:
        con.execute(f"delete from {table} where not starts_with({column}, {start})")
    tables = ("cells", "comparisons")
    build_tables(con, design, contract, tables=tables, remembered=remembered)
    return _reached(con, design, contributor)


def _reached(con: duckdb.DuckDBPyConnection, design: Design, contributor: str) -> SoFar:
    """Read it from source tables and the derived ones, whosever rows are in them besides."""
    rigs = planned_rigs(con, design, contributor)
    progress = progress_of(con, contributor)
    begun = [rig for rig in rigs if rig.rig in progress.last_boot]
    left = make_sheet(design, begun, progress=progress)
    rows = con.execute(_query("doubtful"), [contributor]).fetchall()
    return SoFar(
        contributor,
        tuple(_settled(con, design, contributor)),
        tuple(str(line) for (line,) in rows),
        len(cells_to_measure_again(con, contributor)),
        int(make_sheet(design, begun).counts["measured_runs"]),
        int(left.counts["measured_runs"]),
        left.minutes if left.runs else 0.0,
        tuple(f"{rig.platform} with {rig.card}" for rig in rigs if rig not in begun),
    )


def _settled(
    con: duckdb.DuckDBPyConnection, design: Design, contributor: str
) -> Iterator[SettledSoFar]:
    rows = con.execute(_query("settled"), [contributor]).fetchall()
    found = {row[0]: SettledSoFar(*row) for row in rows}
    for metric in design.metrics:
        yield found.get(metric) or SettledSoFar(metric, 0, 0, 0, 0, 0, 0)


def _query(name: str) -> str:
    return (_SQL / f"{name}.sql").read_text(encoding="utf-8")


def so_far_lines(held: SoFar, design: Design, study: str) -> Iterator[str]:
    """Say it in a few lines, with the commands that follow from it.

    Args:
        held: What there is to say.
        design: The study's design.
        study: The study's folder, as the person named it.
    """
    yield f"So far, of {held.contributor}:"
    for row in held.settled:
        yield f"  settled   {_settled_text(row, design.material_change_pct)}"
    yield from _doubtful_lines(held)
    yield f"  left      {_left_text(held)}"
    steps = []
    if held.runs_left or held.not_begun:
        steps.append(f"rigledger sheet {study} --remaining {held.contributor}")
    if held.again:
        steps.append(f"rigledger sheet {study} --again {held.contributor}")
    if steps:
        yield f"Next step: {', or '.join(steps)}"


def _settled_text(row: SettledSoFar, delta: float) -> str:
    if not row.comparisons:
        return f"{row.metric}: nothing yet, no cell is measured at two levels"
    parts = [
        f"{count} {words}"
        for count, words in (
            (row.losses, "material loss" + "es" * (row.losses > 1)),
            (row.gains, "material gain" + "s" * (row.gains > 1)),
            (row.immaterial, f"within {delta:g} %"),
        )
        if count
    ]  # fmt: skip
    without = f", {row.no_verdict} without verdict" if row.no_verdict else ""
    detail = f" ({', '.join(parts)})" if parts else ""
    return (
        f"{row.metric}: {row.settled} of {row.comparisons} changes{detail}; "
        f"{row.unsettled} not settled{without}"
    )


def _doubtful_lines(held: SoFar) -> Iterator[str]:
    if not held.doubtful:
        yield "  doubtful  no run"
    for line in held.doubtful[:_LISTED]:
        yield f"  doubtful  {line}"
    if len(held.doubtful) > _LISTED:
        yield f"            and {len(held.doubtful) - _LISTED} more cells"


def _left_text(held: SoFar) -> str:
    text = (
        f"{held.runs_left} of {held.runs_planned} planned runs on the rigs begun, "
        f"{hours_text(held.minutes_left)}"
        if held.runs_left
        else f"none of the {held.runs_planned} planned runs on the rigs begun"
    )
    if not held.not_begun:
        return text
    named = ", ".join(held.not_begun[:_LISTED])
    more = f" and {len(held.not_begun) - _LISTED} more" if len(held.not_begun) > _LISTED else ""
    return f"{text}; not begun: {named}{more}"
