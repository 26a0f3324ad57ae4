"""Attacks on a release: does the recheck catch each one that the docs say it catches?

A tiny invented study is published twice and signed. Each attack alters a copy of the second
release: bits in every kind of file, files gone, added, linked or exchanged, texts and rows edited
with every hash repaired, signatures taken away or forged, everything made again by the program.
Then the recheck is run with what a reader may know from elsewhere (key, fingerprint, register, the
release before, the sets as handed in). Stated: every attack is caught by what the list says, with
the file named; nothing is wrongly found in the unaltered releases; and an attack that needs a
reader's own knowledge is indeed not caught without it, as pipeline/docs/trust.md says.

Exits 1 if one of these fails. ``--quick`` checks hashes alone where they are enough, and every
third of the other attacks.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any

# This folder holds a module called statistics, which must not hide the standard library's.
HERE = Path(__file__).resolve().parent
sys.path = [entry for entry in sys.path if Path(entry or ".").resolve() != HERE] + [str(HERE)]

from attack_list import ATTACKS  # noqa: E402
from attack_world import World, build  # noqa: E402

from rigledger.release.errors import RecheckError  # noqa: E402
from rigledger.release.integrity import sums_differences  # noqa: E402
from rigledger.release.recheck import recheck  # noqa: E402

if TYPE_CHECKING:
    from attack_kinds import Attack

UNHARMED = {"as_published", "values_follow"}


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


def found(folder: Path, world: World, given: frozenset[str]) -> set[str] | None:
    """Recheck a release; gives the files that are named, None where it passes as published."""
    try:
        result = recheck(folder, threads=1, **knowledge(world, given))
    except RecheckError as error:
        return {error.file or ""}
    if result.verdict in UNHARMED:
        return None
    return {held.file for held in result.differences}


def judge(number: int, world: World, *, quick: bool) -> str:
    """Carry out one attack and say what is wrong with its outcome; empty where nothing is."""
    attack: Attack = ATTACKS[number]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(shutil.copytree(world.second, Path(name) / world.second.name))
        attack.alter(folder, world)
        if attack.by_hashes and quick:
            files: set[str] | None = {one.file for one in sums_differences(folder)} or None
        else:
            files = found(folder, world, attack.given)
        if files is None:
            return "not caught"
        if attack.names is not None and attack.names not in files:
            return f"caught, but {attack.names} is not named: {', '.join(sorted(files)[:4])}"
        if attack.given and not quick and found(folder, world, frozenset()) is not None:
            return "caught without what the list says it needs: state so"
    return ""


def chosen(*, quick: bool) -> list[int]:
    """Give the attacks of this run by their place in the list."""
    slow = [number for number, attack in enumerate(ATTACKS) if not attack.by_hashes]
    fast = [number for number, attack in enumerate(ATTACKS) if attack.by_hashes]
    return sorted([*fast, *(slow[::3] if quick else slow)])


def main() -> int:
    """Publish, attack, recheck, count."""
    quick = "--quick" in sys.argv[1:]
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as name:
        world = build(Path(name))
        print(f"two releases and a forgery in {time.perf_counter() - began:.0f} s", flush=True)
        false_alarms = [] if quick else [
            folder.name for folder in (world.first, world.second)
            if found(folder, world, frozenset()) is not None
        ]  # fmt: skip
        numbers = chosen(quick=quick)
        # Started afresh: a fork would copy the locks of libraries that have threads.
        with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
            outcomes = list(
                pool.map(
                    _judge, numbers, [world_paths(world)] * len(numbers), [quick] * len(numbers)
                )
            )
    failed = [(ATTACKS[n].name, why) for n, why in zip(numbers, outcomes, strict=True) if why]
    for attack, why in failed:
        print(f"  {attack}: {why}")
    caught = len(numbers) - len(failed)
    print(f"attacks as stated: {caught} of {len(numbers)} (of {len(ATTACKS)} on the list)")
    print(f"unaltered releases with a difference: {len(false_alarms)} of {0 if quick else 2}")
    print(f"{time.perf_counter() - began:.0f} s")
    return 1 if failed or false_alarms else 0


def world_paths(world: World) -> tuple[Any, ...]:
    """Give a world as what another process can be sent: keys as bytes."""
    keys = tuple(key.held.private_bytes_raw() for key in (world.key, world.forger))
    return world.study.root, world.first, world.second, world.forged, *keys, world.fingerprint


def _judge(number: int, held: tuple[Any, ...], quick: bool) -> str:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from rigledger.signing import PrivateKey
    from rigledger.study.layout import StudyFolder

    root, first, second, forged, key, forger, fingerprint = held
    keys = (PrivateKey(Ed25519PrivateKey.from_private_bytes(raw)) for raw in (key, forger))
    world = World(StudyFolder(root), first, second, forged, *keys, fingerprint)
    return judge(number, world, quick=quick)


if __name__ == "__main__":
    sys.exit(main())
