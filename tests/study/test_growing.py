"""A set that is still being measured is taken in as far as it goes, again and again."""

from __future__ import annotations

import csv
import datetime as dt
from typing import TYPE_CHECKING

import pytest

from rigledger.errors import StudyError
from rigledger.files import files_below, sha256_of
from rigledger.study.admit import AdmitResult, admit, withdraw
from rigledger.study.decisions import Waiver, read_decisions
from rigledger.study.growing import MANIFEST, Grown, measured_part

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

    Edit = Callable[[Path, Callable[[dict[str, str]], dict[str, str] | None]], None]

DAY = dt.date(2026, 10, 20)
TYPED_LATER = ("average_fps", "low_1pct_rank_fps")


@pytest.fixture
def scratch(tmp_path: Path) -> Path:
    folder = tmp_path / "scratch"
    folder.mkdir()
    return folder


@pytest.fixture
def half(handed_in: Path, edit: Edit) -> Path:
    """A kit of which the first two of four boots are measured; builds are copied down already."""

    def waits(row: dict[str, str]) -> dict[str, str]:
        return row if int(row["session"]) <= 2 else row | dict.fromkeys(TYPED_LATER, "")

    edit(handed_in / "runs.csv", waits)
    return handed_in


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def hashes(folder: Path) -> dict[str, str]:
    return {name: sha256_of(folder / name) for name in files_below(folder)}


def test_rows_that_wait_are_left_out_and_the_testers_own_folder_is_not_touched(
    half: Path, study: StudyFolder, scratch: Path
) -> None:
    before = hashes(half)
    grown = measured_part(half, study, scratch)
    assert (grown.name, grown.supersedes, grown.waiting) == ("autumn-1", None, 12)
    assert {row["session"] for row in rows_of(grown.folder / "runs.csv")} == {"1", "2"}
    assert [row["boot"] for row in rows_of(grown.folder / "sessions.csv")] == ["1", "2"]
    assert hashes(half) == before


def test_every_line_that_stays_keeps_its_bytes(
    half: Path, study: StudyFolder, scratch: Path
) -> None:
    text = (half / "runs.csv").read_text(encoding="utf-8").replace("\n", "\r\n")
    quoted = text.replace("link status read-out", '"a ""note""\nover lines"')
    (half / "runs.csv").write_bytes(b"\xef\xbb\xbf" + quoted.encode())
    kept = (measured_part(half, study, scratch).folder / "runs.csv").read_bytes()
    assert kept == (b"\xef\xbb\xbf" + quoted.encode())[: len(kept)]
    assert kept.count(b"over lines") == 20


def test_a_set_with_nothing_waiting_is_taken_as_it_is(
    handed_in: Path, study: StudyFolder, scratch: Path
) -> None:
    grown = measured_part(handed_in, study, scratch)
    assert (grown.waiting, grown.expected) == (0, ())
    assert hashes(grown.folder) == hashes(handed_in)


def test_runs_that_were_not_possible_do_not_wait(
    half: Path, study: StudyFolder, scratch: Path, edit: Edit
) -> None:
    edit(
        half / "runs.csv",
        lambda row: row | {"role": "not_possible"} if row["session"] == "3" else row,
    )
    assert measured_part(half, study, scratch).waiting == 6


def test_it_becomes_its_own_next_revision_day_after_day(
    half: Path, study: StudyFolder, tmp_path: Path
) -> None:
    names = []
    for day in (1, 2, 3):
        grown = measured_part(half, study, tmp_path / str(day))
        assert admit(study, grown.folder, received_on=DAY, expected=grown.expected).admitted
        names.append((grown.name, grown.supersedes))
        session = str(day + 2)
        _measure(half, session)
    assert names == [
        ("autumn-1", None), ("autumn-1-r2", "autumn-1"), ("autumn-1-r3", "autumn-1-r2"),
    ]  # fmt: skip
    held = read_decisions(study.decisions)
    assert [item.set_id for item in held.in_force] == ["anna.autumn-1-r3"]
    assert [len(item.waivers) for item in held.decisions] == [1, 1, 0]


def _measure(folder: Path, session: str) -> None:
    text = (folder / "runs.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    place = [name.strip() for name in text[0].split(",")].index("average_fps")
    changed = []
    for number, line in enumerate(text):
        cells = line.rstrip("\n").split(",")
        if cells[1] == session:
            cells[place : place + 2] = [
                f"{100 + number * 37 % 17 / 10:.1f}",
                f"{70 - number / 9:.1f}",
            ]
            line = ",".join(cells) + "\n"  # noqa: PLW2901 - the line as measured
        changed.append(line)
    (folder / "runs.csv").write_text("".join(changed), encoding="utf-8")


def test_only_missing_rounds_are_waived_and_only_while_runs_wait() -> None:
    waiting = Grown(folder=None, name="a", supersedes=None, waiting=3)  # type: ignore[arg-type]
    assert waiting.expected == (
        Waiver("too_few_runs", "still being measured: 3 planned runs wait"),
    )


def test_a_set_of_captures_alone_grows_file_by_file(
    handed_in: Path, study: StudyFolder, scratch: Path
) -> None:
    (handed_in / "runs.csv").unlink()
    (handed_in / "captures").mkdir()
    (handed_in / "captures" / "a_1920x1080_x8_1.csv").write_text("ms\n16.7\n", encoding="utf-8")
    grown = measured_part(handed_in, study, scratch)
    assert grown.expected == (Waiver("too_few_runs", "still being measured"),)
    assert hashes(grown.folder) == hashes(handed_in)


def test_an_expected_waiver_is_recorded_only_where_it_was_needed(
    study: StudyFolder, handed_in: Path
) -> None:
    expected = [Waiver("too_few_runs", "still being measured")]
    made = admit(study, handed_in, received_on=DAY, expected=expected)
    assert made.decision is not None
    assert made.decision.waivers == ()


def test_a_set_to_which_nothing_was_added_is_not_taken_in_again(
    study: StudyFolder, handed_in: Path, admitted: AdmitResult, scratch: Path
) -> None:
    assert admitted.admitted
    with pytest.raises(StudyError, match=r"nothing was added since anna\.autumn-1 was admitted"):
        measured_part(handed_in, study, scratch)


def test_a_set_of_which_nothing_is_measured_is_refused(
    study: StudyFolder, handed_in: Path, scratch: Path, edit: Edit
) -> None:
    edit(handed_in / "runs.csv", lambda row: row | dict.fromkeys(TYPED_LATER, ""))
    with pytest.raises(StudyError, match="nothing is measured yet"):
        measured_part(handed_in, study, scratch)


def test_a_withdrawn_set_does_not_grow(
    study: StudyFolder, handed_in: Path, admitted: AdmitResult, scratch: Path
) -> None:
    assert admitted.admitted
    withdraw(study, "anna.autumn-1", on=DAY, reason="asked for")
    with pytest.raises(StudyError, match="no longer in force, it is withdrawn"):
        measured_part(handed_in, study, scratch)


def test_a_signed_set_does_not_grow(study: StudyFolder, handed_in: Path, scratch: Path) -> None:
    (handed_in / "SHA256SUMS.sig").write_text("x", encoding="utf-8")
    with pytest.raises(StudyError, match="the set is signed"):
        measured_part(handed_in, study, scratch)


@pytest.mark.parametrize("text", ["", "[set", '[set]\nset = "a"\n', "set = 3\n"])
def test_what_is_no_sets_own_file_is_refused(
    study: StudyFolder, tmp_path: Path, scratch: Path, text: str
) -> None:
    (tmp_path / MANIFEST).write_text(text, encoding="utf-8")
    with pytest.raises(StudyError, match="can't be read as a set's own file"):
        measured_part(tmp_path, study, scratch)
