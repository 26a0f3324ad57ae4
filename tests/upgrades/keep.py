"""Writes the kept study with whatever version of the program Python finds, and packs it.

Usage: python tests/upgrades/keep.py FOLDER

Run it before the contract's version is raised, with the version that is about to become old;
README.md says how. It uses the command line and nothing of the package, so that older versions can
run it too. FOLDER gets ``kept.tar.xz``: the study ``link-kept`` with its admitted sets, captures,
decisions, corrections and register, its two releases in ``releases/``, and an empty kit as a folder
and as a workbook.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

STUDY = """\
# The kept study of the upgrade tests. Nothing in it was measured.

[study]
study = "link-kept"
title = "Width of the card's link: sixteen and eight lanes"
question = "Does a narrower link between platform and card cost frame rate?"
setting = "width of the card's link"
runs_required = 3
rounds_planned = 1
rounds_may_be_added = 1
material_change_pct = 3
session_spread_pct = 0.5
spread_prior_pct = 1.0
levels_share_sessions = true
metrics = ["average_fps", "low_1pct_rank_fps"]
licence = "CC-BY-4.0"
consent_version = "1"
keywords = ["link width", "invented"]

[[authors]]
name = "The rigledger maintainers"

[[levels]]
level = "x16"
title = "sixteen lanes"
baseline = true

[[levels]]
level = "x8"
title = "eight lanes"

[[platforms]]
platform = "q1"
family = "Ostrevik third generation"
processor = "Ostrevik 9-16"
board = "Plimmet Z9"
memory_kit = "2 x 16 GB, 8000 MT/s"

[[platforms]]
platform = "q3"
family = "Hurlen fifth generation"
processor = "Hurlen 5-12"
board = "Tarnwick M4"
memory_kit = "2 x 16 GB, 4800 MT/s"

[[cards]]
card = "brankelo-52"
model = "Brankelo 52"
class = "card"
memory_gb = 6

[[workloads]]
workload = "vostrel-marsh"
title = "Vostrel Marsh"
kind = "game"
preset = "high"
graphics_api = "Vulkan 1.3"
passage = "the causeway from the mill to the second sluice"
passage_length_s = 12
plausible."1920x1080".average_fps = [20, 400]

[[workloads]]
workload = "saltcress-rally"
title = "Saltcress Rally"
kind = "replay"
preset = "ultra"
graphics_api = "Vulkan 1.3"
passage = "stage four, first split to second, played back"
passage_length_s = 12
plausible."1920x1080".average_fps = [20, 450]

[[plan]]
cards = ["brankelo-52"]
resolutions = ["1920x1080"]
"""
CORRECTIONS = """\
[[corrections]]
correction = "window-in-front"
session = "bench.q1-52.1"
run = "bench.q1-52.1.012"
action = "exclude"
reason = "another window was in front"
decided_on = 2026-11-18
status = "applied"
"""
KIT = (
    "--contributor", "orla", "--set", "kit", "--shown-name", "Orla",
    "--rig", "own=q1,brankelo-52",
)  # fmt: skip
# Frame rates of each cell's runs, before the last digit that tells a run from the others.
_RATES = {
    ("bench", "vostrel-marsh", "x16"): 121.3,
    ("bench", "vostrel-marsh", "x8"): 113.9,
    ("bench", "saltcress-rally", "x16"): 152.6,
    ("bench", "saltcress-rally", "x8"): 151.8,
    ("maren", "vostrel-marsh", "x16"): 98.4,
    ("maren", "vostrel-marsh", "x8"): 91.2,
    ("maren", "saltcress-rally", "x16"): 134.5,
    ("maren", "saltcress-rally", "x8"): 133.1,
}
_NUDGES = (0.0, 0.37, -0.29)
_RIGS = {"bench": ("q1-52", "q1"), "maren": ("q3-52", "q3")}
_RUNS = "rig,session,run,workload,title_build,resolution,level,level_state,role,pass"
_SESSIONS = (
    "rig,session,boot,round,started_on,firmware_version,driver_version,card_firmware_version,"
    "os,os_build,profile"
)


def main() -> None:
    """Write the study, admit its sets, release it twice, make kits, and pack it all."""
    target = Path(sys.argv[1]).resolve()
    with tempfile.TemporaryDirectory() as name:
        kept, handed = Path(name) / "kept", Path(name) / "handed"
        study = kept / "link-kept"
        _write(study / "study.toml", STUDY)
        _admit(study, _set(handed / "1", "bench", "first", captures=True), "2026-11-10")
        _admit(study, _set(handed / "2", "maren", "first"), "2026-11-11")
        _rigledger("release", study, "--on", "2026-11-12")
        _write(study / "corrections.toml", CORRECTIONS)
        again = _set(handed / "3", "maren", "second", supersedes="first", higher=0.6)
        _admit(study, again, "2026-11-19")
        _rigledger("release", study, "--on", "2026-11-20")
        for kit in ("kit", "kit.xlsx"):
            _rigledger("kit", study, kept / kit, *KIT)
        target.mkdir(parents=True, exist_ok=True)
        (target / "kept.tar.xz").write_bytes(_packed(kept))


def _set(
    folder: Path, contributor: str, name: str, *, supersedes: str = "", higher: float = 0.0,
    captures: bool = False,
) -> Path:  # fmt: skip
    rig, platform = _RIGS[contributor]
    own = [f'supersedes = "{supersedes}"'] if supersedes else []
    logs = ["[captures]", 'frame_time_column = "frame_ms"', 'unit = "ms"'] if captures else []
    head = [
        "[set]", f'set = "{name}"', f'contributor = "{contributor}"',
        f'shown_name = "{contributor.title()}"', 'study = "link-kept"', 'licence = "CC-BY-4.0"',
        'consent_version = "1"', 'utc_offset = "+00:00"', *own, "[same_for_all_runs]",
        'level_check = "link status read-out under load"', *logs,
    ]  # fmt: skip
    _write(folder / "result-set.toml", "\n".join([*head, ""]))
    _write(
        folder / "rigs.csv",
        "rig,platform,card,platform_unit,card_unit,hardware_from\n"
        f"{rig},{platform},brankelo-52,{contributor}-{platform},{contributor}-52,bought\n",
    )
    _write(
        folder / "sessions.csv",
        f"{_SESSIONS}\n{rig},1,1,1,2026-11-02,2.14,7.31.0,B1.07,Plinth Desktop 9,9.4.1182,"
        "default\n",
    )
    _runs(folder, contributor, rig, higher, captures=captures)
    return folder


def _runs(folder: Path, contributor: str, rig: str, higher: float, *, captures: bool) -> None:
    more = ",capture_file" if captures else ""
    lines = [f"{_RUNS},average_fps,low_1pct_rank_fps{more}"]
    for number, (workload, level, nudge) in enumerate(_order(), start=1):
        rate = _RATES[contributor, workload, level] + nudge + higher + number / 100
        cells = f"{workload},4.0.3,1920x1080,{level},effective,measured,{(number + 3) // 4}"
        if captures and workload == "vostrel-marsh":
            log = f"{workload}-{level}-{number:03}.csv"
            _capture(folder / log, rate)
            lines.append(f"{rig},1,{number:03},{cells},,,{log}")
        else:
            values = f"{rate:.2f},{rate * 0.78:.2f}"
            lines.append(f"{rig},1,{number:03},{cells},{values}{',' if captures else ''}")
    _write(folder / "runs.csv", "\n".join([*lines, ""]))


def _order() -> list[tuple[str, str, float]]:
    return [
        (workload, level, nudge)
        for nudge in _NUDGES
        for workload in ("vostrel-marsh", "saltcress-rally")
        for level in ("x16", "x8")
    ]


def _capture(path: Path, rate: float) -> None:
    """Write a log of about twelve seconds, whose frames lie in a fixed pattern about the rate."""
    pattern = [(step * 37 % 101) / 101 - 0.5 for step in range(int(rate * 12))]
    times = [f"{1000 / rate * (1 + 0.2 * share):.2f}" for share in pattern]
    _write(path, "\n".join(["frame_ms", *times, ""]))


def _admit(study: Path, handed_in: Path, day: str) -> None:
    _rigledger("admit", study, handed_in, "--received-on", day)


def _rigledger(*arguments: str | Path) -> None:
    command = [sys.executable, "-m", "rigledger", *(str(item) for item in arguments)]
    done = subprocess.run(  # noqa: S603 - our own program
        command, capture_output=True, encoding="utf-8", check=False
    )
    if done.returncode:
        sys.exit(f"{arguments[0]}: {done.stdout}{done.stderr}")


def _packed(kept: Path) -> bytes:
    """Pack what was kept, in the order of names and without times."""
    packed = io.BytesIO()
    with tarfile.open(fileobj=packed, mode="w:xz", preset=9) as archive:
        for file in sorted(kept.rglob("*")):
            name = file.relative_to(kept).as_posix()
            if file.is_file() and not name.startswith(("link-kept/.", "link-kept/derived/")):
                entry = tarfile.TarInfo(name)
                entry.size = file.stat().st_size
                archive.addfile(entry, io.BytesIO(file.read_bytes()))
    return packed.getvalue()


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode("utf-8"))


if __name__ == "__main__":
    main()
