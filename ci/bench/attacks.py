"""Attacks on a release: does the recheck catch each one that the docs say it catches?

A tiny invented study is published twice and signed. Each attack alters a copy of the second
release: bits in every kind of file, files gone, added, linked or exchanged, texts and rows edited
with every hash repaired, signatures taken away or forged, everything made again by the program.
Then the recheck is run with what a reader may know from elsewhere (key, fingerprint, register, the
release before, the sets as handed in). Stated: every attack is caught by what the list says, with
the file named; nothing is wrongly found in the unaltered releases; and an attack that needs a
reader's own knowledge is indeed not caught without it, as pipeline/docs/trust.md says.

What the recheck said is printed for each, and for one that needs knowledge from elsewhere also what
it said without. Exits 1 if one of these fails. ``--quick`` checks hashes alone where they are
enough, and every third of the other attacks.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any

# This folder holds a module called statistics, which must not hide the standard library's.
HERE = Path(__file__).resolve().parent
sys.path = [entry for entry in sys.path if Path(entry or ".").resolve() != HERE] + [str(HERE)]

from attack_list import ATTACKS  # noqa: E402
from attack_world import World, build  # noqa: E402
from results import Figure, Results, asked  # noqa: E402

from rigledger.release.errors import RecheckError  # noqa: E402
from rigledger.release.integrity import sums_differences  # noqa: E402
from rigledger.release.recheck import recheck  # noqa: E402

if TYPE_CHECKING:
    from attack_kinds import Attack

UNHARMED = {"as_published", "values_follow"}
FILES_SHOWN = 3


@dataclass(frozen=True)
class Said:
    """What a recheck said.

    Attributes:
        verdict: Its verdict, ``refused`` where it stopped before one.
        files: Files that it names; none where it found the release unharmed.
    """

    verdict: str
    files: tuple[str, ...]

    @property
    def caught(self) -> bool:
        """Whether anything was found."""
        return self.verdict not in UNHARMED

    def __str__(self) -> str:
        """Give the verdict with the first files that are named."""
        shown = ", ".join(self.files[:FILES_SHOWN])
        more = f" and {len(self.files) - FILES_SHOWN} more" if len(self.files) > FILES_SHOWN else ""
        return f"{self.verdict.replace('_', ' ')}{': ' if shown else ''}{shown}{more}"


@dataclass(frozen=True)
class Outcome:
    """How an attack ended.

    Attributes:
        said: What the recheck said with what the reader knows from elsewhere.
        alone: What it said of the release alone; None where that is the same, or was not tried.
        wrong: What is not as stated; empty where nothing is.
    """

    said: Said
    alone: Said | None
    wrong: str


def knowledge(world: World, given: frozenset[str]) -> dict[str, Any]:
    """Give what a reader knows as arguments of the recheck."""
    known = {
        "key": world.key.public,
        "fingerprint": world.fingerprint,
        "register": world.study.releases,
        "previous": world.first,
        "study": world.study.root,
        "deep": True,
    }
    return {name: known[name] for name in given}


def found(folder: Path, world: World, given: frozenset[str]) -> Said:
    """Recheck a release."""
    try:
        result = recheck(folder, threads=1, **knowledge(world, given))
    except RecheckError as error:
        return Said("refused", (error.file or "",))
    files = dict.fromkeys(held.file for held in result.differences)
    return Said(result.verdict, () if result.verdict in UNHARMED else tuple(files))


def by_hashes(folder: Path) -> Said:
    """Compare hashes alone, which comes first in every recheck."""
    files = dict.fromkeys(one.file for one in sums_differences(folder))
    return Said("hashes differ" if files else "as_published", tuple(files))


def judge(number: int, world: World, *, quick: bool) -> Outcome:
    """Carry out one attack and hold what the recheck says against what the list states."""
    attack: Attack = ATTACKS[number]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(shutil.copytree(world.second, Path(name) / world.second.name))
        attack.alter(folder, world)
        only_hashes = attack.by_hashes and quick
        said = by_hashes(folder) if only_hashes else found(folder, world, attack.given)
        alone = found(folder, world, frozenset()) if attack.given and not quick else None
    return Outcome(said, alone, wrong(attack, said, alone))


def wrong(attack: Attack, said: Said, alone: Said | None) -> str:
    """Say where an outcome is not as stated; empty where it is."""
    if not said.caught:
        return "not caught"
    if attack.names is not None and attack.names not in said.files:
        return f"{attack.names} is not named"
    if alone is not None and alone.caught:
        return "caught without what the list says it needs: state so"
    return ""


def chosen(*, quick: bool) -> list[int]:
    """Give the attacks of this run by their place in the list."""
    slow = [number for number, attack in enumerate(ATTACKS) if not attack.by_hashes]
    fast = [number for number, attack in enumerate(ATTACKS) if attack.by_hashes]
    return sorted([*fast, *(slow[::3] if quick else slow)])


def main() -> int:
    """Publish, attack, recheck, count."""
    given = asked(__doc__, "hashes alone where they are enough, every third of the others")
    quick, results = given.quick, Results("attacks", given.quick)
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as name:
        world = build(Path(name))
        print(f"two releases and a forgery in {time.perf_counter() - began:.0f} s", flush=True)
        false_alarms = [] if quick else [
            folder.name for folder in (world.first, world.second)
            if found(folder, world, frozenset()).caught
        ]  # fmt: skip
        numbers = chosen(quick=quick)
        # Started afresh: a fork would copy the locks of libraries that have threads.
        with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
            outcomes = list(
                pool.map(
                    _judge, numbers, [world_paths(world)] * len(numbers), [quick] * len(numbers)
                )
            )
    told = [(ATTACKS[number], outcome) for number, outcome in zip(numbers, outcomes, strict=True)]
    for attack, outcome in told:
        print(line(attack, outcome))
    stated = sum(not outcome.wrong for _, outcome in told)
    needing = [attack for attack, _ in told if attack.given]
    print(f"\nattacks as stated: {stated} of {len(told)} (of {len(ATTACKS)})")
    print(f"caught from the release alone: {len(told) - len(needing)} are stated to be")
    print(f"only with what trust.md says a reader must know from elsewhere: {len(needing)}")
    print(f"unaltered releases with a difference: {len(false_alarms)} of {0 if quick else 2}")
    print(f"{time.perf_counter() - began:.0f} s")
    results.keep(Figure("attacks as stated", stated, "count", least=len(told)))
    if not quick:  # else none was rechecked
        name = "unaltered releases with a difference"
        results.keep(Figure(name, len(false_alarms), "count", 0))
    counts = {"caught from the release alone": len(told) - len(needing)}
    results.report("count", counts | {"only with what a reader must know": len(needing)})
    return results.close(given.json)


def line(attack: Attack, outcome: Outcome) -> str:
    """Tell one attack: as stated or not, what is done, what the recheck says, and without help."""
    given = " ".join(f"--{name}" for name in sorted(attack.given))
    knowing = f" (with {given})" if given else ""
    alone = f"; the release alone: {outcome.alone}" if outcome.alone else ""
    mark = f"NOT AS STATED, {outcome.wrong}" if outcome.wrong else "caught"
    return f"{mark}: {attack.name}{knowing}\n    {outcome.said}{alone}"


def world_paths(world: World) -> tuple[Any, ...]:
    """Give a world as what another process can be sent: keys as bytes."""
    keys = tuple(key.held.private_bytes_raw() for key in (world.key, world.forger))
    return world.study.root, world.first, world.second, world.forged, *keys, world.fingerprint


def _judge(number: int, held: tuple[Any, ...], quick: bool) -> Outcome:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from rigledger.signing import PrivateKey
    from rigledger.study.layout import StudyFolder

    root, first, second, forged, key, forger, fingerprint = held
    keys = (PrivateKey(Ed25519PrivateKey.from_private_bytes(raw)) for raw in (key, forger))
    world = World(StudyFolder(root), first, second, forged, *keys, fingerprint)
    return judge(number, world, quick=quick)


if __name__ == "__main__":
    sys.exit(main())
