"""A study as small as can be, and the three commands that are disturbed in it.

What only computes is done once, in the process that the disturbed ones are forked from: checking
the set, reading the source tables, deriving, judging by outside programs, drawing the page. None of
it writes in the study. Everything that writes there runs as it is, again and again.
"""

from __future__ import annotations

import csv
import random
import shutil
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, Any

from rigledger.contract import load_contract
from rigledger.database import connect
from rigledger.intake.check import check_set
from rigledger.release.publish import release
from rigledger.release.write import schema_files
from rigledger.study.admit import admit
from rigledger.study.design import read_design
from rigledger.study.from_captures import CaptureFiles, kit_from_captures
from rigledger.study.kit_model import Tester
from rigledger.study.layout import StudyFolder, open_study
from rigledger.study.sheet import rigs_of
from rigledger.tables.build import DERIVED_TABLES, build_tables
from rigledger.tables.write import Built, rebuild_tables

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

Run = Callable[[StudyFolder, Callable[[Any], Any]], None]
DAY = date(2026, 10, 20)
STUDY = """\
[study]
study = "link-try"
title = "Link width, tried"
question = "Does the narrow link cost frames?"
setting = "width of the card's link"
runs_required = 3
rounds_planned = 1
rounds_may_be_added = 1
material_change_pct = 3
levels_share_sessions = true
metrics = ["average_fps"]
licence = "CC-BY-4.0"
consent_version = "1"

[[authors]]
name = "The rigledger maintainers"

[[levels]]
level = "wide"
title = "Wide link"
baseline = true

[[levels]]
level = "narrow"
title = "Narrow link"

[[platforms]]
platform = "p1"
family = "second generation"
processor = "Ostrel 8"
board = "Pinnet B2"
memory_kit = "2 x 16 GB, 6000 MT/s"

[[cards]]
card = "fast"
model = "Velmar 90"
class = "card"
memory_gb = 16

[[cards]]
card = "slow"
model = "Velmar 30"
class = "card"
memory_gb = 6

[[workloads]]
workload = "salt-road"
title = "Salt Road"
kind = "game"
preset = "high"
graphics_api = "Vulkan 1.3"
passage = "the first dune"
passage_length_s = 30

[[plan]]
resolutions = ["1920x1080"]
"""
_RIG = {"platform_unit": "a", "card_unit": "b", "hardware_from": "bought"}
_SESSION = {
    "started_on": "2026-10-05", "firmware_version": "2.14", "driver_version": "551.10",
    "card_firmware_version": "none", "os": "desktop-os 11", "os_build": "26100.1",
    "profile": "default",
}  # fmt: skip
_RUN = {"title_build": "1.0", "level_state": "effective", "level_check": "read back"}


@dataclass(frozen=True)
class Work:
    """A command to disturb.

    Attributes:
        name: Its name.
        before: A study as it stands before the command, a folder that is only copied.
        run: Runs the command on a copy; ``wrap`` is put around connections made beforehand.
    """

    name: str
    before: Path
    run: Run


def prepare(folder: Path, tables: Sequence[str] = DERIVED_TABLES) -> list[Work]:
    """Make the study in three states, and compute what the commands need; some seconds.

    Args:
        folder: An empty folder.
        tables: Derived tables to build and write; the fewer, the sooner it is ready.
    """
    with replaced(
        ("rigledger.release.write", "build_tables", partial(build_tables, tables=tables)),
        ("rigledger.tables.write", "DERIVED_TABLES", tuple(tables)),
    ):
        return _prepared(folder, tables)


def _prepared(folder: Path, tables: Sequence[str]) -> list[Work]:
    study = _new_study(folder / "first")
    first, second = (_handed_in(folder / card, study, card) for card in ("fast", "slow"))
    _admit(study, first, check_set(first, study.root, captures=False))
    view = _publish(study)
    _tables(view, tables)(study, lambda con: con)
    done = check_set(second, study.root, captures=False)
    taken = _copy(study, folder / "taken")
    _admit(taken, second, done)
    view = _publish(_copy(taken, folder / "published"))
    for place in (study, taken):
        place.lock.unlink()
    return [
        Work("admit", study.root, lambda place, _: _admit(place, second, done)),
        Work("tables", taken.root, _tables(view, tables)),
        Work("release", taken.root, _release(view)),
    ]


@contextmanager
def replaced(*triples: tuple[str, str, object]) -> Iterator[None]:
    """Put values in the place of names of modules; a name that isn't there is an error."""
    held = [(import_module(module), name, value) for module, name, value in triples]
    before = [getattr(module, name) for module, name, _ in held]
    for module, name, value in held:
        setattr(module, name, value)
    try:
        yield
    finally:
        for (module, name, _), value in zip(held, before, strict=True):
            setattr(module, name, value)


def _no_results(*_: object, **__: object) -> tuple[dict[str, Any], dict[str, Any]]:
    return {"expectations": []}, {"expectations": [], "rows": {}}


# A release holds each file of the contract; one written like the other, so some are enough.
_SOME_OF_SCHEMA = dict(list(schema_files().items())[:6])
_WITHOUT_JUDGES = (
    ("rigledger.release.write", "assess", _no_results),
    ("rigledger.release.write", "compiled_problems", lambda *_: []),
    ("rigledger.release.write", "refuse_invalid", lambda *_: None),
    ("rigledger.release.write", "documents", lambda *_: {"index.html": "a page\n" * 4000}),
)


def _new_study(root: Path) -> StudyFolder:
    root.mkdir()
    (root / "study.toml").write_text(STUDY, encoding="utf-8", newline="\n")
    return open_study(root)


def _copy(study: StudyFolder, root: Path) -> StudyFolder:
    shutil.copytree(study.root, root, symlinks=True)
    return open_study(root)


def _handed_in(folder: Path, study: StudyFolder, card: str) -> Path:
    """Make a set of captures: three passes at each level."""
    folder.mkdir()
    for place, level in enumerate(("wide", "narrow")):
        for number in (1, 2, 3):
            name = f"1_salt-road_1920x1080_{level}_{number}.csv"
            _log(folder / "logs" / name, f"{card} {level} {number}", 30.0 + place)
    design, contract = read_design(study.toml), load_contract()
    pattern = "{session}_{workload}_{resolution}_{level}_{pass}.csv"
    files = CaptureFiles(folder / "logs", pattern, "frame", "ms", delimiter=",")
    tester = Tester("anna", f"with-{card}", "Anna")
    rigs = rigs_of(design, cards=[card])
    kit_from_captures(files, folder / "set", design, contract, rigs=rigs, tester=tester)
    for table, typed in (("rigs", _RIG), ("sessions", _SESSION), ("runs", _RUN)):
        _type_in(folder / "set" / f"{table}.csv", typed)
    return folder / "set"


def _log(path: Path, seed: str, mean_ms: float) -> None:
    draw = random.Random(seed)  # noqa: S311 - made-up frame times
    took = [round(draw.lognormvariate(0, 0.1) * mean_ms, 4) for _ in range(1100)]
    path.parent.mkdir(exist_ok=True)
    path.write_text("frame\n" + "".join(f"{ms}\n" for ms in took), encoding="utf-8", newline="\n")


def _type_in(path: Path, typed: dict[str, str]) -> None:
    with path.open(encoding="utf-8", newline="") as stream:
        rows = [row | typed for row in csv.DictReader(stream)]
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _admit(place: StudyFolder, handed_in: Path, checked: object) -> None:
    with replaced(("rigledger.study.admit", "check_apart", lambda *_, **__: checked)):
        admit(place, handed_in, received_on=DAY)


# A view, as a release has it, holds the derived tables of the study too.
def _tables(view: Any, tables: Sequence[str]) -> Run:  # noqa: ANN401 - a dataclass of the release's
    def run(place: StudyFolder, wrap: Callable[[Any], Any]) -> None:
        built = Built(wrap(view.con), view.design, view.contract)
        with replaced(
            ("rigledger.tables.write", "build_study", lambda *_, **__: built),
            ("rigledger.tables.write", "build_tables", lambda *_, **__: None),
            ("rigledger.tables.write", "DERIVED_TABLES", tuple(tables)),
        ):
            rebuild_tables(place)

    return run


def _release(view: Any) -> Run:  # noqa: ANN401
    def run(place: StudyFolder, wrap: Callable[[Any], Any]) -> None:
        with replaced(
            ("rigledger.release.publish", "load_source", lambda *_: view.design),
            ("rigledger.release.write", "schema_files", lambda: _SOME_OF_SCHEMA),
            ("rigledger.release.publish", "findings_of", lambda *_: ()),
            ("rigledger.release.write", "_view", lambda *_: replace(view, con=wrap(view.con))),
            *_WITHOUT_JUDGES,
        ):
            release(place, released_on=DAY)

    return run


def _publish(study: StudyFolder) -> Any:  # noqa: ANN401
    """Publish, and give what was computed for it with the connection that holds it."""
    modules: Any = [import_module(f"rigledger.release.{name}") for name in ("publish", "write")]
    load, make = modules[0].load_source, modules[1]._view  # noqa: SLF001 - the part that computes
    con, kept = connect(threads=1), []

    def made(_: object, *words: object) -> object:
        kept.append(make(con, *words))
        return kept[-1]

    with replaced(
        (
            "rigledger.release.publish",
            "load_source",
            lambda place, _, *more: load(place, con, *more),
        ),
        ("rigledger.release.publish", "findings_of", lambda *_: ()),
        ("rigledger.release.write", "_view", made),
        *_WITHOUT_JUDGES,
    ):
        release(study, released_on=DAY)
    return kept[0]
