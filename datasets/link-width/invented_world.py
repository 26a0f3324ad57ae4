"""The invented world: rigs, sessions and true frame rates, as world.toml states them."""

from __future__ import annotations

import csv
import datetime as dt
import itertools
import random
import tomllib
from dataclasses import dataclass
from pathlib import Path
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

World = dict[str, Any]
SheetRow = dict[str, str]
HERE = Path(__file__).resolve().parent
FIRST_DRIVER = "7.31.0"


@dataclass(frozen=True)
class Rig:
    """One rig of one set, and when its first session starts.

    Attributes:
        world: The whole of world.toml.
        set: Its entry among the sets.
        held: Its own entry in that set.
    """

    world: World
    set: World
    held: World
    first_day: dt.date

    @property
    def platform(self) -> str:
        """Its platform model."""
        return str(self.held["platform"])

    @property
    def card(self) -> str:
        """Its card model."""
        return str(self.held["card"])

    @property
    def name(self) -> str:
        """Its short name."""
        return f"{self.platform}-{self.card.rsplit('-', 1)[1]}"

    @property
    def full_name(self) -> str:
        """Its name with the contributor in front."""
        return f"{self.set['contributor']}.{self.name}"

    @property
    def resolutions(self) -> list[str]:
        """The resolutions that are run on it."""
        return list(self.world["cards"][self.card]["resolutions"])

    @property
    def driver(self) -> str:
        """Version of the graphics driver on it."""
        return str(self.set.get("driver_version", FIRST_DRIVER))

    def passes(self, title: str) -> list[int]:
        """Give the passes of a title in each round: its own where it was patched meanwhile."""
        usual = self.world["passes_by_round"]
        return list((self.patch(title) or {}).get("passes_by_round", usual))

    def patch(self, title: str) -> World | None:
        """Give what world.toml says of a patch of a title here, None where there was none."""
        named = {(item["title"], item["rig"]): item for item in self.world["patched"]}
        return named.get((title, self.full_name))


@dataclass(frozen=True)
class Session:
    """One boot of a rig at one level."""

    rig: Rig
    boot: int
    round: int
    level: str
    sheet: tuple[SheetRow, ...] = ()

    @property
    def started_at(self) -> dt.datetime:
        """Three boots a day, from nine in the morning; or as the run sheet has it."""
        if self.sheet:
            return self.sheet_time(self.sheet[0])
        days, place = divmod(self.boot - 1, 3)
        day = self.rig.first_day + dt.timedelta(days=days)
        hours = 9 + 4 * place
        return dt.datetime(day.year, day.month, day.day, hours, tzinfo=dt.UTC)

    def sheet_time(self, row: SheetRow) -> dt.datetime:
        """Give the time that the run sheet states for one of its rows."""
        day = self.rig.first_day + dt.timedelta(days=int(row["day"]) - 1)
        return dt.datetime.combine(day, dt.time.fromisoformat(row["starts"]), dt.UTC)


@dataclass(frozen=True)
class Draw:
    """Draws for one study: standard normal numbers from streams with names."""

    seed: int

    def normal(self, *stream: object) -> float:
        """Give the number of a stream; the same name always gives the same number."""
        # Not 0 and not 1, where the normal distribution has no quantile.
        return NormalDist().inv_cdf(self._stream(stream).uniform(1e-12, 1 - 1e-12))

    def shuffled(self, items: Sequence[Any], *stream: object) -> list[Any]:
        """Give the items in the random order of a stream."""
        return self._stream(stream).sample(items, len(items))

    def _stream(self, parts: tuple[object, ...]) -> random.Random:
        name = "/".join(str(part) for part in (self.seed, *parts))
        return random.Random(name)  # noqa: S311 - invented data, no secret


def read_world() -> World:
    """Read world.toml."""
    return tomllib.loads((HERE / "world.toml").read_text(encoding="utf-8"))


def rigs_of(world: World) -> list[list[Rig]]:
    """Give the rigs of each set; each rig takes three days."""
    return [
        [
            Rig(world, held, own, world["first_day"] + dt.timedelta(days=14 * number + 3 * place))
            for place, own in enumerate(held["rigs"])
        ]
        for number, held in enumerate(world["sets"])
    ]


def later_rigs_of(world: World) -> list[list[Rig]]:
    """Give the rigs of each set that was handed in after the first release."""
    return [
        [Rig(world, held, own, held["first_day"]) for own in held["rigs"]]
        for held in world["later"]
    ]


def sessions_of(rig: Rig) -> list[Session]:
    """Plan a rig's sessions: each level in each round, every other round in reverse."""
    if "sheet" in rig.set:
        return _sessions_of_sheet(rig)
    asked = rig.held.get("levels", rig.world["cards"][rig.card]["levels"])
    possible = [level for level in asked if level != rig.held.get("not_possible")]
    order = [
        (number, level)
        for number in range(1, len(rig.world["passes_by_round"]) + 1)
        for level in (possible if number % 2 else possible[::-1])
    ]
    return [Session(rig, boot, number, level) for boot, (number, level) in enumerate(order, 1)]


def _sessions_of_sheet(rig: Rig) -> list[Session]:
    """Read a rig's sessions from the run sheet that was followed."""
    with (HERE / rig.set["sheet"]).open(encoding="utf-8", newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if row["rig"] == rig.name]
    found = []
    for boot, held in itertools.groupby(rows, key=lambda row: row["boot"]):
        sheet = tuple(held)
        found.append(Session(rig, int(boot), int(sheet[0]["round"]), sheet[0]["level"], sheet))
    return found


def copied(session: Session) -> Session:
    """Give the session whose runs a false set copies; the same one where a set is true."""
    name = session.rig.held.get("copied_from")
    if name is None:
        return session
    rigs = (rig for of_set in rigs_of(session.rig.world) for rig in of_set)
    (original,) = (rig for rig in rigs if rig.full_name == name)
    (found,) = (
        other
        for other in sessions_of(original)
        if (other.round, other.level) == (session.round, session.level)
    )
    return found


def jobs_of(session: Session, number: int) -> list[tuple[str, str]]:
    """Give titles and resolutions of one pass; a patched title may have passes of its own."""
    rig, place = session.rig, session.round - 1
    return [cell for cell in cells_of(rig) if number <= rig.passes(cell[0])[place]]


def most_passes(session: Session) -> int:
    """Give the number of passes of the title that has most of them in a session."""
    rig = session.rig
    return max(rig.passes(title)[session.round - 1] for title in rig.world["titles"])


def base_fps(rig: Rig, title: World, resolution: str) -> float:
    """Give the true frame rate at the baseline level, before session and run."""
    scale = rig.world["resolutions"][resolution]
    platform = rig.world["platforms"][rig.platform]["speed"] ** scale["platform_weight"]
    speed = rig.world["cards"][rig.card]["speed"] * scale["speed"] * platform
    return float(title["fps"] * speed * rig.held.get("speed", 1.0))


def build(session: Session, workload: str) -> str:
    """Give the build of a title in a session; a patched title stays patched from that boot on."""
    title = title_of(session.rig.world, workload)
    patch = session.rig.patch(workload)
    if patch is not None and session.boot >= patch["from_boot"]:
        return str(title["patched_build"])
    return str(title["build"])


def title_of(world: World, workload: str) -> World:
    """Give what world.toml says of a title, or of the sentinel."""
    sentinel = world["sentinel"]
    return dict(sentinel if workload == sentinel["workload"] else world["titles"][workload])


def cells_of(rig: Rig) -> list[tuple[str, str]]:
    """Give the titles and resolutions that are run on a rig."""
    return [(title, resolution) for title in rig.world["titles"] for resolution in rig.resolutions]
