"""Stores a set's captures under their hashes: on admission, and where the store was not kept."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.captures.batch import read_captures
from rigledger.captures.store import CaptureStore
from rigledger.database import connect
from rigledger.files import files_below
from rigledger.intake.captures import capture_files, declared_source
from rigledger.intake.database import make_schemas
from rigledger.intake.log import FindingLog
from rigledger.intake.readset import read_set
from rigledger.intake.typed import make_typed

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.contract import Contract
    from rigledger.intake.handover import Handover
    from rigledger.study.layout import StudyFolder

_FRAMES = "stored_frames"


def store_captures(
    study: StudyFolder, folder: Path, contract: Contract, checked: Handover | None = None
) -> Mapping[str, str]:
    """Store every readable capture that the runs of a set name.

    Args:
        study: The study whose store gets them; what is there already stays as it is.
        folder: The set's folder.
        contract: The contract.
        checked: What the check of the set left; None reads the set again.

    Returns:
        What the set says of itself: the cells of its table ``set`` as text.
    """
    if checked is not None:
        CaptureStore(study.captures).take(checked.folder)
        checked.remember()
        return checked.said
    log = FindingLog(contract)
    store = CaptureStore(study.captures)
    with (
        tempfile.TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as scratch,
        connect() as con,
    ):
        make_schemas(con)
        held = read_set(con, folder, tuple(files_below(folder)), log, Path(scratch))
        make_typed(con, held, contract)
        source = declared_source(held, log)
        if source:
            named = dict.fromkeys(folder / name for name, _ in capture_files(con))
            read_captures(con, [path for path in named if path.is_file()], source, _FRAMES)
            store.put_all(con, _FRAMES)
    return held.manifest.set
