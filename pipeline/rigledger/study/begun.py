"""A study's source tables while its sets are being loaded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.remembered import Remembered
from rigledger.study.corrections import read_corrections
from rigledger.study.design import read_design
from rigledger.study.design_rows import design_rows
from rigledger.study.loaded_sets import LoadedSets
from rigledger.study.rows import insert_rows
from rigledger.tabular import create_tables

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract import Contract
    from rigledger.study.corrections import Correction
    from rigledger.study.layout import StudyFolder
    from rigledger.study.model import Design


@dataclass(frozen=True, slots=True)
class Begun:
    """Source tables that hold the rows of a study's design, and of the sets that were loaded.

    Attributes:
        design: The study's design.
        corrections: The study's corrections, which are yet to be applied.
        sets: The sets.
    """

    design: Design
    corrections: tuple[Correction, ...]
    sets: LoadedSets


def begin_source(study: StudyFolder, con: duckdb.DuckDBPyConnection, contract: Contract) -> Begun:
    """Make a study's source tables, with the rows of its design alone.

    Args:
        study: The study.
        con: Gets the tables; tables of these names are replaced.
        contract: The contract.

    Raises:
        StudyError: The design or the corrections are wrong.
    """
    design = read_design(study.toml, contract)
    corrections = read_corrections(study.corrections, contract)
    create_tables(con, contract.group("source"))
    for name, rows in design_rows(design, contract).items():
        insert_rows(con, name, rows)
    remembered = Remembered(study.kept / "captures.json")
    return Begun(design, corrections, LoadedSets(con, study, contract, remembered))
