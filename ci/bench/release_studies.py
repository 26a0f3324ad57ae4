"""Studies on disk for the benchmark of releases: result sets with their runs, with captures or not.

Every set is one rig's: sessions of whole matrices of 7 workloads, 3 resolutions, 2 levels, 3
passes. All numbers are drawn from a seed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

WORKLOADS, RESOLUTIONS, LEVELS, PASSES = 7, ("1920x1080", "2560x1440", "3840x2160"), 2, 3
RUNS_A_SESSION = WORKLOADS * len(RESOLUTIONS) * LEVELS * PASSES
SECONDS = 60

STUDY = """
[study]
study = "bench"
title = "Bench"
question = "How long does it take?"
setting = "a switch"
runs_required = 3
rounds_planned = 2
rounds_may_be_added = 0
material_change_pct = 3
session_spread_pct = 0.5
spread_prior_pct = 1.0
levels_share_sessions = true
metrics = ["average_fps", "low_1pct_rank_fps"]
licence = "CC-BY-4.0"
consent_version = "1"
[[authors]]
name = "The rigledger maintainers"
[[levels]]
level = "off"
title = "off"
baseline = true
[[levels]]
level = "on"
title = "on"
[[plan]]
resolutions = ["1920x1080", "2560x1440", "3840x2160"]
"""
PLATFORM = (
    '[[platforms]]\nplatform = "p{n}"\nfamily = "F"\nprocessor = "P{n}"\n'
    'board = "B"\nmemory_kit = "M"\n'
)
CARD = '[[cards]]\ncard = "c{n}"\nmodel = "C{n}"\nclass = "card"\nmemory_gb = 8\n'
WORKLOAD = (
    '[[workloads]]\nworkload = "w{n}"\ntitle = "W{n}"\nkind = "scene"\npreset = "high"\n'
    'graphics_api = "G"\npassage = "whole"\npassage_length_s = 60\n'
)
SET = """\
[set]
set = "autumn"
contributor = "{contributor}"
shown_name = "Contributor {number}"
study = "bench"
licence = "CC-BY-4.0"
consent_version = "1"

[same_for_all_runs]
title_build = "1"
level_state = "effective"
role = "measured"
"""
CAPTURES = """
[captures]
frame_time_column = "frame_time_ms"
unit = "ms"
"""
RIGS = "rig,platform,card,platform_unit,card_unit,hardware_from\nr,p{p},c{c},a,a,bought\n"
SESSIONS = (
    "rig,session,boot,round,started_on,firmware_version,driver_version,card_firmware_version,os,"
    "os_build,profile\n"
)


def write_study(folder: Path) -> None:
    """Write the design of a study without sets."""
    folder.mkdir(parents=True)
    parts = [
        STUDY,
        *(PLATFORM.format(n=n) for n in range(4)),
        *(CARD.format(n=n) for n in range(2)),
        *(WORKLOAD.format(n=n) for n in range(WORKLOADS)),
    ]
    (folder / "study.toml").write_text("".join(parts), encoding="utf-8")


def write_set(folder: Path, number: int, sessions: int, *, captures: bool) -> None:
    """Write a result set as it is handed in.

    Args:
        folder: Folder to make.
        number: Number of the set; contributor, rig and numbers drawn follow from it.
        sessions: Its sessions, of `RUNS_A_SESSION` runs each.
        captures: Whether each run has a capture of 60 s and no reported value, or the reverse.
    """
    folder.mkdir(parents=True)
    rng = np.random.default_rng([20261125, number])
    about = SET.format(contributor=f"c{number}", number=number) + (CAPTURES if captures else "")
    rounds = [
        f"r,{n},{n},{(n - 1) % 2 + 1},2026-10-05,1.20,551.10,unknown,Fennel 12,12.4,default\n"
        for n in range(1, sessions + 1)
    ]
    texts = {
        "result-set.toml": about,
        "rigs.csv": RIGS.format(p=number % 4, c=number // 4 % 2),
        "sessions.csv": SESSIONS + "".join(rounds),
        "runs.csv": _runs(folder, rng, sessions, captures=captures),
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")


def _runs(folder: Path, rng: np.random.Generator, sessions: int, *, captures: bool) -> str:
    last = "capture_file" if captures else "average_fps,low_1pct_rank_fps"
    lines = [f"rig,session,run,workload,resolution,level,pass,{last}"]
    if captures:
        (folder / "captures").mkdir()
    for session in range(1, sessions + 1):
        rates = np.exp(rng.normal(0, 0.01, RUNS_A_SESSION))
        for run in range(RUNS_A_SESSION):
            rest, level = divmod(run, LEVELS)
            rest, place = divmod(rest, len(RESOLUTIONS))
            repeat, workload = divmod(rest, WORKLOADS)
            rate = float(rates[run]) * (60 + 8 * workload) * (1 - 0.2 * place) * (1 + 0.02 * level)
            value = f"{rate:.2f},{0.7 * rate:.2f}"
            if captures:
                value = f"captures/{session}-{run:03}.csv"
                _capture(folder / value, rng, rate)
            cells = (f"w{workload}", RESOLUTIONS[place], ("off", "on")[level], repeat + 1, value)
            lines.append(f"r,{session},{run + 1:03}," + ",".join(str(cell) for cell in cells))
    return "\n".join(lines) + "\n"


def _capture(path: Path, rng: np.random.Generator, rate: float) -> None:
    times = 1000 / rate * rng.lognormal(0, 0.12, round(rate * SECONDS))
    path.write_text("frame_time_ms\n" + "\n".join(map("{:.4f}".format, times)) + "\n", "utf-8")
