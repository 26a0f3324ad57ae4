"""Two signed releases of a tiny invented study, and a forger's copy of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.contract import load_contract
from rigledger.files import sha256_of
from rigledger.release.publish import release
from rigledger.signing import PrivateKey, new_key_pair, read_private_key
from rigledger.study.admitted import folder_sums
from rigledger.study.decisions import Decision, read_decisions, write_decisions
from rigledger.study.layout import StudyFolder
from rigledger.study.set_captures import store_captures

if TYPE_CHECKING:
    from pathlib import Path

DAYS = {"anna.autumn": dt.date(2026, 10, 20), "bela.autumn": dt.date(2026, 11, 20)}
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
spread_prior_pct = 1.0
levels_share_sessions = true
metrics = ["average_fps"]
licence = "CC-BY-4.0"
consent_version = "1"

[[authors]]
name = "The authors of the study"

[[levels]]
level = "wide"
title = "Wide link"
baseline = true

[[levels]]
level = "narrow"
title = "Narrow link"

[[platforms]]
platform = "brookfield-k4"
family = "brookfield"
processor = "Brookfield K4"
board = "Stanmer One"
memory_kit = "Tindle 2x16"

[[cards]]
card = "velmar-90"
model = "Velmar 90"
class = "card"
memory_gb = 16

[[workloads]]
workload = "harbour-dawn"
title = "Harbour, Dawn"
kind = "game"
preset = "high"
graphics_api = "vulkan"
passage = "pier"
passage_length_s = 7

[[plan]]
resolutions = ["1920x1080"]
cards = ["velmar-90"]
"""
MANIFEST = """\
[set]
set = "autumn"
contributor = "{who}"
shown_name = "{shown}"
study = "link-try"
licence = "CC-BY-4.0"
consent_version = "1"
utc_offset = "+00:00"

[same_for_all_runs]
workload = "harbour-dawn"
title_build = "1.4"
resolution = "1920x1080"
level_state = "effective"
level_check = "read back"
role = "measured"
"""
CAPTURES = """
[captures]
frame_time_column = "ms"
unit = "ms"
"""
RIGS = (
    "rig,platform,card,platform_unit,card_unit,hardware_from\n"
    "p1,brookfield-k4,velmar-90,a,a,bought\n"
)
SESSIONS = (
    "rig,session,boot,round,started_on,firmware_version,driver_version,card_firmware_version,os,"
    "os_build,profile\np1,1,1,1,2026-10-05,1.20,551.10,unknown,Fennel 12,12.4,default\n"
)
NUDGES = {"anna": (-0.21, 0.13, 0.38), "bela": (-0.33, 0.02, 0.29)}


@dataclass(frozen=True, slots=True)
class World:
    """What attacks start from.

    Attributes:
        study: The authors' study, with its register.
        first: Their release 1.0.0, of anna's set alone.
        second: Their release 1.1.0, of anna's and bela's sets.
        forged: A forger's release of the same version, without bela's set, made by the program.
        key: The authors' key.
        forger: Another key.
        fingerprint: Fingerprint of 1.1.0.
    """

    study: StudyFolder
    first: Path
    second: Path
    forged: Path
    key: PrivateKey
    forger: PrivateKey
    fingerprint: str


def build(place: Path) -> World:
    """Publish the study twice, as its authors do, then once as a forger does."""
    key, forger = (read_private_key(new_key_pair(place / who)[0]) for who in ("authors", "forger"))
    study = _study(place / "study")
    _take_in(study, "anna.autumn")
    first = release(study, released_on=DAYS["anna.autumn"], key=key)
    forged = _study(place / "forged")
    _take_in(forged, "anna.autumn")
    _take_in(study, "bela.autumn")
    second = release(study, released_on=DAYS["bela.autumn"], key=key)
    false = release(forged, released_on=DAYS["bela.autumn"], version="1.1.0")
    return World(study, first.folder, second.folder, false.folder, key, forger, second.fingerprint)


def _study(place: Path) -> StudyFolder:
    place.mkdir(parents=True)
    study = StudyFolder(place)
    study.toml.write_text(STUDY, encoding="utf-8", newline="\n")
    return study


def _take_in(study: StudyFolder, set_id: str) -> None:
    who = set_id.split(".", maxsplit=1)[0]
    folder = study.set_folder(set_id)
    (folder / "captures").mkdir(parents=True)
    captured = who == "anna"
    texts = {
        "result-set.toml": MANIFEST.format(who=who, shown=who.title())
        + (CAPTURES if captured else ""),
        "rigs.csv": RIGS,
        "sessions.csv": SESSIONS,
        "runs.csv": _runs(who, captured=captured),
    }
    for number in range(1, 7) if captured else ():
        texts[f"captures/{number:03}.csv"] = _capture(number)
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
    (folder / "SHA256SUMS").write_text(folder_sums(folder), encoding="utf-8", newline="\n")
    sha256 = sha256_of(folder / "SHA256SUMS")
    store_captures(study, folder, load_contract())
    words = (who, DAYS[set_id], "accepted_with_remarks", sha256, "CC-BY-4.0", "1")
    held = read_decisions(study.decisions).with_decision(Decision(set_id, *words))
    write_decisions(study.decisions, held)


def _runs(who: str, *, captured: bool) -> str:
    lines = ["rig,session,run,level,pass,average_fps" + (",capture_file" if captured else "")]
    number = 0
    for level, base in (("wide", 160.0), ("narrow", 148.0)):
        for turn, nudge in enumerate(NUDGES[who], start=1):
            number += 1
            value = "" if captured else f"{base + nudge:.2f}"
            cells = f"p1,1,{number:03},{level},{turn},{value}"
            lines.append(cells + (f",captures/{number:03}.csv" if captured else ""))
    return "\n".join(lines) + "\n"


def _capture(number: int) -> str:
    """Give 1,100 frame times whose mean differs from run to run and from level to level."""
    mean = 6.25 if number <= 3 else 6.76
    times = (
        mean + 0.011 * ((place * 37 + number * 11) % 23 - 11) + 0.02 * number
        for place in range(1100)
    )
    return "ms\n" + "".join(f"{time:.4f}\n" for time in times)
