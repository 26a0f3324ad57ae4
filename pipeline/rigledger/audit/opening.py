"""Opens a study for an audit: with its kept tables, else with those that the question needs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.audit.frame import Study
from rigledger.claims.evidence import read_evidence
from rigledger.claims.judge import judge_all
from rigledger.claims.read import read_claims
from rigledger.contract import load_contract
from rigledger.database import connect
from rigledger.remembered import Remembered
from rigledger.study.load import load_source
from rigledger.tables.analysis import STATISTICS
from rigledger.tables.build import build_tables
from rigledger.tables.kept import found_study, kept_study

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rigledger.claims.model import Judged
    from rigledger.study.layout import StudyFolder


def open_tables(place: StudyFolder, tables: Sequence[str] | None, *, threads: int = 2) -> Study:
    """Give a study's source tables and some of its derived ones: as kept, or built now.

    Args:
        place: The study.
        tables: Names of the derived tables that have to be there; None for all, which are kept for
            the next time.
        threads: Threads of the database; the tables don't depend on it.

    Raises:
        StudyError: The study's files are wrong.
    """
    opened = kept_study if tables is None else found_study
    built = opened(place, threads=threads)
    if built is not None:
        return Study(built.con, built.design, built.contract)
    contract, con = load_contract(), connect(threads=threads)
    design = load_source(place, con, contract)
    remembered = Remembered(place.kept / STATISTICS)
    build_tables(con, design, contract, tables=tables, remembered=remembered)
    return Study(con, design, contract)


def open_with_claims(place: StudyFolder, *, threads: int = 2) -> tuple[Study, tuple[Judged, ...]]:
    """Open a study with its comparisons, and judge its claims where it states any.

    Raises:
        StudyError: The study's files are wrong.
    """
    tables = None if place.claims.is_file() else ("comparisons",)
    study = open_tables(place, tables, threads=threads)
    claims = read_claims(place.claims, study.design, study.contract)
    if not claims:
        return study, ()
    evidence = read_evidence(study.con, study.design, study.contract)
    return study, tuple(judge_all(claims, evidence))
