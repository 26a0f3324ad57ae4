"""The tables that charts are drawn from: a study's, built anew, or a release's, as published."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.contract import load_contract
from rigledger.errors import StudyError, near_names

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import duckdb

    from rigledger.contract import Contract
    from rigledger.study.model import Design

_SQL = Path(__file__).parent / "sql"
NEEDED = ("cells", "comparisons", "factor_effects", "overall", "runs_wide")


@dataclass(frozen=True)
class Choice:
    """What of a study is drawn; None means all.

    Attributes:
        title: A workload's id, or its title.
        metric: A metric's id.
        contrast: A contrast's id.
        cells: Cells whose runs are drawn in their order, as rig, workload, resolution.
    """

    title: str | None = None
    metric: str | None = None
    contrast: str | None = None
    cells: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True)
class Source:
    """Tables in a connection, what they belong to, and what of them is drawn."""

    con: duckdb.DuckDBPyConnection
    design: Design
    contract: Contract
    choice: Choice = Choice()

    @cached_property
    def workloads(self) -> frozenset[str]:
        """The workloads that are drawn."""
        name = self.choice.title
        held = self.design.workloads
        return frozenset(w.workload for w in held if name in {None, w.workload, w.title})

    @property
    def delta(self) -> float:
        """The material change, in per cent."""
        return self.design.material_change_pct

    def rows(self, query: str, values: Mapping[str, Any] | None = None) -> list[dict[str, Any]]:
        """Give the chosen rows of a query of this package.

        Args:
            query: Its name.
            values: Values of its parameters.
        """
        text = (_SQL / f"{query}.sql").read_text(encoding="utf-8")
        cursor = self.con.execute(text, values) if values else self.con.execute(text)
        names = [column[0] for column in cursor.description or ()]
        rows = (dict(zip(names, row, strict=True)) for row in cursor.fetchall())
        return [row for row in rows if self._chosen(row)]

    def metric_name(self, metric: str) -> str:
        """Give the short name of a metric: its title up to the definition."""
        return self.contract.metrics[metric].title.split(":", 1)[0]

    def contrast_name(self, contrast: str) -> str:
        """Say in words which levels are compared."""
        held = next(item for item in self.design.contrasts if item.contrast == contrast)
        titles = {level.level: level.title for level in self.design.levels}
        return f"{titles[held.to_level]} against {titles[held.from_level]}"

    def _chosen(self, row: Mapping[str, Any]) -> bool:
        return (
            ("workload" not in row or row["workload"] in self.workloads)
            and self.choice.metric in {None, row.get("metric", self.choice.metric)}
            and self.choice.contrast in {None, row.get("contrast", self.choice.contrast)}
        )


def open_source(path: Path, choice: Choice | None = None, *, threads: int = 2) -> Source:
    """Open a study's folder, or an unpacked release.

    Args:
        path: The folder.
        choice: What of it is drawn.
        threads: Threads of the database; nothing drawn depends on it.

    Raises:
        StudyError: It is neither, lacks a table, or a chosen name isn't in it.
    """
    source = _release(path, threads) if (path / "datapackage.json").is_file() else None
    source = source or _study(path, threads)
    choice = choice or Choice()
    _check(source, choice)
    source.con.execute((_SQL / "titles.sql").read_text(encoding="utf-8"))
    return Source(source.con, source.design, source.contract, choice)


def _study(path: Path, threads: int) -> Source:
    from rigledger.study.layout import open_study
    from rigledger.tables.kept import kept_study

    built = kept_study(open_study(path), threads=threads)
    return Source(built.con, built.design, built.contract)


def _release(path: Path, threads: int) -> Source:
    from rigledger.contract.sql_text import identifier
    from rigledger.database import connect
    from rigledger.study.design import read_design
    from rigledger.tabular import file_literal

    contract = load_contract()
    con = connect(threads=threads)
    found = {file.stem: file for part in ("data", "derived") for file in _parquet(path / part)}
    for name, file in found.items():
        con.execute(f"CREATE TABLE {identifier(name)} AS FROM read_parquet({file_literal(file)})")
    for name in NEEDED:
        if name not in found:
            raise StudyError(
                f"the release has no table {name}", file=f"derived/{name}.parquet",
                next_step="rigledger recheck says what else is missing",
            )  # fmt: skip
    return Source(con, read_design(path / "study.toml", contract), contract)


def _parquet(folder: Path) -> Iterable[Path]:
    return sorted(folder.glob("*.parquet"))


def _check(source: Source, choice: Choice) -> None:
    workloads = {held.workload for held in source.design.workloads}
    titles = {held.title for held in source.design.workloads}
    contrasts = {held.contrast for held in source.design.contrasts}
    _known("--title", choice.title, workloads | titles)
    _known("--metric", choice.metric, source.contract.metrics)
    _known("--contrast", choice.contrast, contrasts)
    rigs = {str(rig) for (rig,) in source.con.execute("SELECT rig FROM rigs").fetchall()}
    for rig, workload, _ in choice.cells:
        _known("--cell", rig, rigs)
        _known("--cell", workload, workloads)


def _known(option: str, name: str | None, legal: Iterable[str]) -> None:
    if name is not None and name not in set(legal):
        raise StudyError(
            f"{option}: the study has none of this name", value=name,
            next_step=near_names(name, legal) or None,
        )  # fmt: skip
