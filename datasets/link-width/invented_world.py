"""The invented world: rigs, sessions and true frame rates, as world.toml states them."""

from __future__ import annotations

import datetime as dt
import random
import tomllib
from dataclasses import dataclass
from pathlib import Path
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

World = dict[str, Any]


@dataclass(frozen=True)
class Rig:
    """One rig of one set, and when its first session starts."""

    world: World
    held: World
    platform: str
    card: str
    first_day: dt.date

    @property
    def name(self) -> str:
        """Its short name."""
        return f"{self.platform}-{self.card.rsplit('-', 1)[1]}"

    @property
    def full_name(self) -> str:
        """Its name with the contributor in front."""
        return f"{self.held['contributor']}.{self.name}"


@dataclass(frozen=True)
class Session:
    """One boot of a rig at one level."""

    rig: Rig
    boot: int
    round: int
    level: str

    @property
    def started_at(self) -> dt.datetime:
        """Three boots a day, from nine in the morning."""
        day = self.rig.first_day + dt.timedelta(days=(self.boot - 1) // 3)
        hours = 9 + 4 * ((self.boot - 1) % 3)
        return dt.datetime(day.year, day.month, day.day, hours, tzinfo=dt.UTC)


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
    place = Path(__file__).resolve().parent / "world.toml"
    return tomllib.loads(place.read_text(encoding="utf-8"))


def sessions_of(rig: Rig) -> list[Session]:
    """Plan a rig's sessions: each level in each round, every other round in reverse."""
    possible = [
        level
        for level in rig.held.get("levels", rig.world["cards"][rig.card]["levels"])
        if level != rig.held.get("not_possible", {}).get("level")
    ]
    order = [
        (number, level)
        for number in range(1, len(rig.world["passes_by_round"]) + 1)
        for level in (possible if number % 2 else possible[::-1])
    ]
    return [Session(rig, boot, number, level) for boot, (number, level) in enumerate(order, 1)]


def base_fps(rig: Rig, title: World, resolution: str) -> float:
    """Give the true frame rate at the baseline level, before session and run."""
    scale = rig.world["resolutions"][resolution]
    platform = rig.world["platforms"][rig.platform]["speed"] ** scale["platform_weight"]
    speed = rig.world["cards"][rig.card]["speed"] * scale["speed"] * platform
    return float(title["fps"] * speed * rig.held.get("rig_speed", 1.0))


def build(session: Session, workload: str) -> str:
    """Give the build of a title in a session; a patched title stays patched from that boot on."""
    rig = session.rig
    title = title_of(rig.world, workload)
    for patch in rig.world["patched"]:
        where = (patch["title"], patch["contributor"], patch["platform"], patch["card"])
        here = where == (workload, rig.held["contributor"], rig.platform, rig.card)
        if here and session.boot >= patch["from_boot"]:
            return str(title["patched_build"])
    return str(title["build"])


def title_of(world: World, workload: str) -> World:
    """Give what world.toml says of a title, or of the sentinel."""
    sentinel = world["sentinel"]
    return dict(sentinel if workload == sentinel["workload"] else world["titles"][workload])


def cells_of(rig: Rig) -> list[tuple[str, str]]:
    """Give the titles and resolutions that are run on a rig."""
    resolutions = rig.world["cards"][rig.card]["resolutions"]
    return [(title, resolution) for title in rig.world["titles"] for resolution in resolutions]
