"""Loads a study's sets while another process checks one more, so that only that one is left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import duckdb

from rigledger.contract import load_contract
from rigledger.database import connect
from rigledger.errors import RigledgerError
from rigledger.study.begun import begin_source
from rigledger.study.decisions import read_decisions
from rigledger.study.inputs import input_hashes, set_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.study.begun import Begun
    from rigledger.study.layout import StudyFolder
    from rigledger.study.loaded_sets import LoadedSets


@dataclass(frozen=True, slots=True)
class LoadedAhead:
    """Sets of a study that were loaded before it was known which ones it would have.

    Attributes:
        begun: A study's source tables, with the rows of the sets that were in force.
        hashes: Hashes of the files that they follow from, of `input_hashes`.
    """

    begun: Begun
    hashes: Mapping[str, str]

    def still_holds(self, hashes: Mapping[str, str]) -> Begun | None:
        """Give what was loaded, to be used once; None, and all is gone, where it no longer holds.

        It does while each set that was loaded is in force, and nothing has changed in the study
        but that there are more sets.

        Args:
            hashes: What `input_hashes` gives now.
        """
        sets = self.begun.sets
        now = read_decisions(sets.study.decisions, sets.contract)
        in_force = {one.set_id for one in now.in_force}
        if sets.rows.keys() <= in_force and _of(sets, hashes) == self.hashes:
            return self.begun
        sets.con.close()
        return None


def load_ahead(study: StudyFolder, *, threads: int = 2) -> LoadedAhead | None:
    """Load a study's sets in force and write nothing.

    Args:
        study: The study.
        threads: Threads of the database.

    Returns:
        What was loaded; None where anything is wrong with it, which whoever loads it in earnest
        will say, or where captures would have to be stored first.
    """
    contract = load_contract()
    con = connect(threads=threads)
    try:
        hashes = input_hashes(study)
        begun = begin_source(study, con, contract)
        begun.sets.load(read_decisions(study.decisions, contract), store=False)
        whole = not begun.sets.lacks_captures()
    except (RigledgerError, OSError, duckdb.Error):
        whole = False
    if whole:
        return LoadedAhead(begun, _of(begun.sets, hashes))
    con.close()
    return None


def _of(sets: LoadedSets, hashes: Mapping[str, str]) -> dict[str, str]:
    """Give the hashes of a study's own files but for its decisions, and of the loaded sets'."""
    wanted = {*sets.rows, None}
    return {
        name: sha256
        for name, sha256 in hashes.items()
        if set_of(name) in wanted and name != sets.study.decisions.name
    }
