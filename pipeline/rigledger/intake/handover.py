"""What a check leaves for whoever admits the set: its captures as a study keeps them, and more.

A set is read once: what the check has read of its captures is not read again to store them, nor to
load the set. That the set is still what was checked is known by the hashes of its files.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

from rigledger.captures.store import write_all
from rigledger.files import sha256_of
from rigledger.intake.captures import FRAMES, keys_of_captures, keys_of_metrics
from rigledger.remembered import Remembered
from rigledger.signing import UNSIGNED

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from concurrent.futures import Future
    from pathlib import Path

    import duckdb

    from rigledger.captures.source import CaptureSource
    from rigledger.captures.store import StoredCapture
    from rigledger.contract.model import Metric
    from rigledger.intake.gate import GateResult
    from rigledger.side import Side

_NOTE = "checked.json"
_METRICS = """
SELECT f.run, c.capture, r.capture_from_s, r.capture_for_s, f.metric, f.value, f.frames
FROM frame_metrics AS f
JOIN handed.runs AS r ON r._row = CAST(f.run AS BIGINT)
JOIN handed.captures AS c ON c.capture_file = r.capture_file
ORDER BY f.run, f.metric
"""


@dataclass(frozen=True, slots=True)
class Handover:
    """A checked set, for its admission.

    Attributes:
        folder: Holds each capture that could be read, as a file that is named by its hash.
        sums: Each file of the set but its own checksums and signature: path to SHA-256.
        said: What the set says of itself: the cells of its table ``set`` as text.
        found: What was found of captures, by the keys of what is remembered of them.
    """

    folder: Path
    sums: Mapping[str, str]
    said: Mapping[str, str]
    found: Mapping[str, list[Any]]

    def remember(self) -> None:
        """Spare this process reading the captures when it loads the set."""
        remembered = Remembered()
        for key, value in self.found.items():
            remembered.recall(key, partial(list, value))


def handed_over(folder: Path) -> Handover | None:
    """Read what a check left in a folder; None where it left nothing."""
    try:
        held = json.loads((folder / _NOTE).read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    return Handover(folder, held["sums"], held["said"], held["found"])


@dataclass(slots=True)
class Leaving:
    """Collects what a check leaves.

    Attributes:
        keep: Folder to be made for it.
        made: Folder in which it is collected; the database of the check may write there.
        sums: Hashes of the set's files, taken before anything else reads them.
    """

    keep: Path
    made: Path
    sums: dict[str, str]
    _found: dict[str, list[Any]] = field(default_factory=dict)
    _written: Future[None] | None = None

    def take(
        self,
        side: Side,
        source: CaptureSource,
        read: Mapping[str, tuple[Path, StoredCapture]],
    ) -> None:
        """Begin to write the captures that were read.

        Args:
            side: Writes them beside other work; the table `FRAMES` stays as it is until the end.
            source: The declaration by which they were read.
            read: Path in the set to the file and what it holds.
        """
        stored = {path.as_posix(): one for path, one in read.values()}
        self._written = side.begin(
            partial(write_all, table=FRAMES, stored=stored, folder=self.made)
        )
        key = keys_of_captures(source)
        for file, (path, one) in read.items():
            self._found[key(path, self.sums[file])] = [one.capture, one.frames, one.total_ns]

    def take_metrics(self, con: duckdb.DuckDBPyConnection, metrics: Iterable[Metric]) -> None:
        """Take what ``frame_metrics`` holds of the set's runs, made from these metrics."""
        key = keys_of_metrics(metrics)
        runs: dict[str, tuple[str, list[Any]]] = {}
        for run, *window, metric, value, frames in con.execute(_METRICS).fetchall():
            found = runs.setdefault(run, (key(*window), []))[1]
            found.append([metric, value, frames])
        self._found.update(runs.values())

    def end(self, said: Mapping[str, str]) -> None:
        """Leave it all, with what the set says of itself."""
        if self._written is not None:
            self._written.result()
        held = {"sums": self.sums, "said": dict(said), "found": self._found}
        (self.made / _NOTE).write_text(json.dumps(held), encoding="utf-8")
        shutil.move(self.made, self.keep)


def begun(keep: Path, scratch: Path, seen: GateResult) -> Leaving:
    """Begin to collect for a set that may be opened."""
    made = scratch / "left"
    made.mkdir()
    folder = seen.folder or scratch
    sums = {name: sha256_of(folder / name) for name in seen.files if name not in UNSIGNED}
    return Leaving(keep, made, sums)
