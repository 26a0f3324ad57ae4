# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""A set of captures alone: the names of the files say what was run."""

from __future__ import annotations

import datetime as dt
import gzip
import random
import shutil
import time
from typing import TYPE_CHECKING

import duckdb
import pyarrow as pa
import pytest

from rigledger.contract import load_contract
from rigledger.intake.check import check_set
from rigledger.intake.file_names import PatternError, compiled_pattern
from rigledger.intake.normalise import load_set
from rigledger.study.admit import admit
from rigledger.study.layout import open_study
from rigledger.tabular import create_tables

if TYPE_CHECKING:
    from pathlib import Path

PATTERN = "{session}_{workload}_{resolution}_{level}_{pass}.csv"
LEVELS = {"1": "x16", "2": "x8"}
# Slow enough to be short files, with the frames that every metric needs.
MEANS = {("1920x1080", "1"): 27.1, ("1920x1080", "2"): 27.2, ("2560x1440", "1"): 40.2}
SAME = '\n[same_for_all_runs]\ntitle_build = "1.0.4"\nlevel_state = "effective"\n'
SAID = SAME + 'level_check = "status read-out"\n'


def frames(seed: str, mean_ms: float, seconds: float = 60.0) -> bytes:
    """Write frame times that last ``seconds``."""
    draw = random.Random(seed)  # noqa: S311 - made-up frame times
    lines, left = ["ms"], seconds * 1000
    while left > 0:
        took = round(draw.lognormvariate(0, 0.12) * mean_ms, 3)
        left -= took
        lines.append(str(took))
    return ("\n".join(lines) + "\n").encode("ascii")


def zstandard(data: bytes) -> bytes:
    return pa.compress(data, codec="zstd", asbytes=True)


def captures_part(pattern: str = PATTERN) -> str:
    return f'[captures]\nframe_time_column = "ms"\nunit = "ms"\npattern = "{pattern}"\n'


@pytest.fixture(scope="module")
def logs() -> dict[str, bytes]:
    """Twelve captures of the title and four of the sentinel, over two sessions."""
    made = {}
    for session, level in LEVELS.items():
        for resolution in ("1920x1080", "2560x1440"):
            mean = MEANS.get((resolution, session), 40.4)
            for number in (1, 2, 3):
                name = f"{session}_harbour-dawn_{resolution}_{level}_{number}.csv"
                made[f"captures/{name}"] = frames(name, mean)
        for number in (1, 2):
            name = f"{session}_still-room_1920x1080_{level}_{number}.csv"
            made[f"captures/{name}"] = frames(name, 13.3, 30.0)
    return made


@pytest.fixture
def alone(made, logs):
    """The clean set without a runs table, with captures in its place; sentinels are left out."""
    made.manifest += SAID + captures_part()
    made.files = {name: data for name, data in logs.items() if "still-room" not in name}

    def written() -> Path:
        folder = made.write()
        (folder / "runs.csv").unlink()
        return folder

    made.alone = written
    return made


def findings(folder, study, rule):
    held = check_set(folder, study, captures=False).findings
    return [finding for finding in held if finding.rule == rule]


def found(folder, study) -> list[tuple[str, str, int | None]]:
    result = check_set(folder, study, captures=False)
    return [(f.rule, f.file, f.row) for f in result.findings if f.severity == "error"]


def test_a_set_of_captures_alone_is_taken(alone, study):
    result = check_set(alone.alone(), study)
    assert [f for f in result.findings if f.severity == "error"] == []
    counts = {name: result.counts[name] for name in ("sessions", "runs", "measured_runs", "cells")}
    assert counts == {"sessions": 2, "runs": 12, "measured_runs": 12, "cells": 4}


@pytest.fixture(scope="module")
def checked():
    """Keeps what the set comes to whose captures are not packed."""
    return []


@pytest.mark.parametrize(("ending", "pack"), [("gz", gzip.compress), ("zst", zstandard)])
@pytest.mark.usefixtures("admit_here")
def test_packed_captures_come_to_what_they_come_to_unpacked(alone, study, checked, ending, pack):
    if not checked:
        checked.append(check_set(alone.alone(), study))
    (plain,) = checked
    alone.folder = alone.folder.with_name("packed")
    alone.files = {f"{name}.{ending}": pack(data) for name, data in alone.files.items()}
    alone.manifest = alone.manifest.replace(PATTERN, f"{PATTERN}.{ending}")
    packed = check_set(alone.alone(), study)
    assert packed.counts == plain.counts
    assert [(f.rule, f.file.removesuffix(f".{ending}"), f.reason) for f in packed.findings] == [
        (f.rule, f.file, f.reason) for f in plain.findings
    ]
    admitted = admit(open_study(study), alone.folder, received_on=dt.date(2026, 10, 8))
    assert admitted.admitted
    assert len(list((study / "captures").glob("*.parquet"))) == 12


def test_the_role_may_be_part_of_the_name(alone, logs, study):
    pattern = "{role}-{pass}_{session}_{workload}_{resolution}_{level}.csv"
    alone.manifest = alone.manifest.replace(PATTERN, pattern)
    roles = {"harbour-dawn": "measured", "still-room": "sentinel"}
    alone.files = {}
    for name, data in logs.items():
        session, workload, resolution, level, number = name[9:-4].split("_")
        new = f"{roles[workload]}-{number}_{session}_{workload}_{resolution}_{level}.csv"
        alone.files[new] = data
    result = check_set(alone.alone(), study)
    assert (result.verdict, result.counts["runs"], result.counts["measured_runs"]) == (
        "accepted", 16, 12,
    )  # fmt: skip


def test_one_session_need_not_be_named(alone, study):
    alone.sessions.pop()
    alone.manifest = alone.manifest.replace("{session}_", "")
    alone.files = {name.replace("captures/1_", ""): data for name, data in alone.files.items()
                   if "captures/1_" in name}  # fmt: skip
    result = check_set(alone.alone(), study)
    assert result.counts["runs"] == 6
    assert "required_missing" not in {f.rule for f in result.findings}


def test_several_sessions_have_to_be_named(alone, study):
    alone.manifest = alone.manifest.replace("{session}_", "")
    alone.files = {name.replace("/1_", "/"): data for name, data in alone.files.items()}
    assert ("pattern_wrong", "result-set.toml", 17) in found(alone.alone(), study)


def test_a_name_that_does_not_fit_is_found_and_no_capture_is_passed_over(alone, study):
    alone.files["captures/warming up.csv"] = b"ms\n7\n"
    alone.files["captures/notes.txt"] = b"it was warm"
    assert found(alone.alone(), study) == [("capture_name", "captures/warming up.csv", None)]


def test_two_files_for_one_run_are_found(alone, study):
    name = "1_harbour-dawn_1920x1080_x16_3.csv"
    alone.files[f"more/{name}"] = frames("other", 27.1)
    assert found(alone.alone(), study) == [("capture_name_twice", f"more/{name}", None)]


def test_a_finding_about_a_run_names_its_capture(alone, study):
    name = "captures/2_harbour-dawn_1920x1080_x8_3.csv"
    alone.files["captures/2_harbour-dawn_1920x1080_x9_3.csv"] = alone.files.pop(name)
    errors = found(alone.alone(), study)
    assert ("unknown_level", "captures/2_harbour-dawn_1920x1080_x9_3.csv", None) in errors
    assert {row for _, _, row in errors} == {None}


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ("1920x1080", "1080p", "pattern_mismatch"),
        ("_3.csv", "_0.csv", "out_of_bounds"),
        ("_3.csv", "_three.csv", "type_spelling"),
        ("harbour-dawn", "Harbour-Dawn", "pattern_mismatch"),
    ],
)
def test_a_part_that_is_spelt_wrongly_comes_to_the_usual_finding(alone, study, old, new, rule):
    name = "captures/2_harbour-dawn_1920x1080_x8_3.csv"
    alone.files[name.replace(old, new)] = alone.files.pop(name)
    assert (rule, name.replace(old, new), None) in found(alone.alone(), study)


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ("{workload}_{resolution}_{level}.csv", "the part {pass} is missing"),
        ("{title}_{workload}_{resolution}_{level}_{pass}.csv", "no part {title}"),
        ("{level}_{workload}_{resolution}_{level}_{pass}.csv", "{level} stands there twice"),
        ("{workload}{level}_{resolution}_{pass}.csv", "{workload} and {level} run together"),
        ("{workload}-{level}_{resolution}_{pass}.csv", "{workload} and {level} run together"),
        ("x.csv", "the part {workload} is missing"),
    ],
)
def test_a_pattern_that_can_not_be_used_is_named(alone, study, pattern, said):
    with pytest.raises(PatternError, match="pattern: ") as raised:
        compiled_pattern(pattern)
    assert said in raised.value.message
    alone.manifest = alone.manifest.replace(PATTERN, pattern)
    (finding,) = [
        f
        for f in check_set(alone.alone(), study, captures=False).findings
        if f.rule == "pattern_wrong"
    ]
    assert (finding.value, finding.row, finding.reason) == (pattern, 17, said)


def test_a_pattern_that_fits_nothing_shows_what_is_there(alone, study):
    alone.manifest = alone.manifest.replace(PATTERN, "logs/" + PATTERN)
    (finding,) = [
        f
        for f in check_set(alone.alone(), study, captures=False).findings
        if f.rule == "pattern_wrong"
    ]
    assert "captures/1_harbour-dawn_1920x1080_x16_1.csv" in finding.next_step


def test_a_runs_table_goes_before_the_pattern(alone, study):
    alone.files["captures/warming up.csv"] = b"ms\n7\n"
    assert "capture_name" not in {
        f.rule for f in check_set(alone.write(), study, captures=False).findings
    }


def test_values_that_only_captures_give_are_held_against_the_plausible_ranges(alone, study):
    name = "captures/1_harbour-dawn_1920x1080_x16_2.csv"
    alone.files[name] = frames("slow", 70.0)
    named = [(f.rule, f.file, f.column) for f in check_set(alone.alone(), study).findings]
    assert ("outside_plausible_range", name, "average_fps") in named


def test_a_set_of_captures_alone_is_admitted_with_its_captures(alone, study):
    opened = open_study(study)
    result = admit(opened, alone.alone(), received_on=dt.date(2026, 10, 20))
    assert result.admitted
    assert {finding.rule for finding in result.check.findings} == {"sentinels_missing"}
    admitted = opened.set_folder("anna.autumn-1")
    kept = sorted(path.name for path in (admitted / "captures").iterdir())
    assert kept == sorted(name.partition("/")[2] for name in alone.files)
    assert len(list(opened.captures.rglob("*.parquet"))) == 12


def test_hyphens_part_what_has_none_itself():
    pattern = compiled_pattern("{workload}-{resolution}-{level}-{pass}.csv")
    match = pattern.fullmatch("salt-road-1920x1080-x16-mode-b-3.csv")
    assert match
    assert match.groupdict() == {
        "workload": "salt-road", "resolution": "1920x1080", "level": "x16-mode-b", "pass": "3",
    }  # fmt: skip


def test_the_longest_name_is_judged_at_once_by_the_most_ambiguous_pattern():
    pattern = compiled_pattern("{rig}_{workload}-{resolution}-{level}-{pass}-{session}.csv")
    started = time.process_time()
    assert pattern.fullmatch("a_" + "-a" * 98 + ".cs") is None
    assert time.process_time() - started < 1


def test_it_is_taken_into_the_study_with_its_captures(alone, study):
    with duckdb.connect() as con:
        create_tables(con, load_contract().group("source"))
        load_set(con, alone.alone(), study)
        rows = con.execute(
            "SELECT run, resolution, level, pass, frames > 1400 FROM runs JOIN captures USING"
            " (capture) WHERE pass = 2 ORDER BY ALL"
        ).fetchall()
    assert rows == [
        ("anna.bench.1.002", "1920x1080", "x16", 2, True),
        ("anna.bench.1.005", "2560x1440", "x16", 2, True),
        ("anna.bench.2.002", "1920x1080", "x8", 2, True),
        ("anna.bench.2.005", "2560x1440", "x8", 2, True),
    ]


@pytest.fixture
def taken(alone, admit_once):
    """The captures are in the study as anna's; gives them back as berta's, under other names."""
    admit_once(alone.alone())
    alone.folder = alone.folder.with_name("again")
    alone.manifest = alone.manifest.replace('"anna"', '"berta"')
    alone.manifest = alone.manifest.replace(PATTERN, f"berta_{PATTERN}")
    alone.files = {
        name.replace("captures/", "captures/berta_"): data for name, data in alone.files.items()
    }
    return alone


def copied(folder, study) -> list[tuple[str, str | None, str | None, str]]:
    found = check_set(folder, study).findings
    return [
        (f.file, f.column, f.value, f.reason) for f in found if f.rule == "copied_from_other_set"
    ]


FIRST = "captures/berta_1_harbour-dawn_1920x1080_x16_1.csv"


def test_captures_of_another_set_are_seen_as_copies(taken, study):
    said = "12 captures have the frame times of captures in the set anna.autumn-1"
    assert copied(taken.alone(), study) == [(FIRST, "capture_file", "anna.autumn-1", said)]


def test_a_copy_is_seen_written_otherwise_and_in_other_columns(taken, study):
    taken.files = {
        name: (b"n," + data.replace(b"\n", b"0\n1,")[:-2]).replace(b"ms0", b"ms")
        for name, data in taken.files.items()
    }
    ((_, _, value, reason),) = copied(taken.alone(), study)
    assert (value, reason[:11]) == ("anna.autumn-1", "12 captures")


def test_a_single_copy_is_seen_where_the_store_was_not_kept(taken, study):
    taken.files = {
        name: data if name == FIRST else frames(f"berta {name}", 27.3)
        for name, data in taken.files.items()
    }
    shutil.rmtree(study / "captures")
    said = "a capture has the frame times of captures in the set anna.autumn-1"
    assert copied(taken.alone(), study) == [(FIRST, "capture_file", "anna.autumn-1", said)]


def test_captures_of_ones_own_are_no_copies(taken, study):
    taken.files = {name: frames(f"berta {name}", 27.3) for name in taken.files}
    assert copied(taken.alone(), study) == []


def test_a_set_that_replaces_another_may_have_its_captures(taken, study):
    taken.manifest = taken.manifest.replace('"berta"', '"anna"').replace(
        'set = "autumn-1"', 'set = "autumn-2"\nsupersedes = "autumn-1"'
    )
    assert copied(taken.alone(), study) == []


@pytest.mark.usefixtures("taken")
def test_an_admitted_set_is_no_copy_of_itself(study):
    assert copied(study / "sets" / "anna.autumn-1", study) == []
