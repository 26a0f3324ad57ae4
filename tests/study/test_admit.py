"""A set is taken in whole or not at all, and never twice."""

from __future__ import annotations

import datetime as dt
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigledger.errors import StudyError
from rigledger.files import files_below, sha256_of
from rigledger.storage import StorageError
from rigledger.study import admit as admit_module
from rigledger.study.admit import AdmitResult, admit, withdraw
from rigledger.study.admitted import altered_files
from rigledger.study.decisions import Decision, Waiver, read_decisions

if TYPE_CHECKING:
    from rigledger.study.layout import StudyFolder

DAY = dt.date(2026, 10, 20)
Edit = Callable[[Path, Callable[[dict[str, str]], dict[str, str] | None]], None]


def _bytes(folder: Path) -> dict[str, bytes]:
    """Everything in a folder but the lock, which holds nothing."""
    return {name: (folder / name).read_bytes() for name in files_below(folder) if name != ".lock"}


def _renamed(folder: Path, name: str, *, supersedes: str | None = None) -> Path:
    """Give a set another name of its own."""
    path = folder / "result-set.toml"
    text = path.read_text(encoding="utf-8").replace('set = "autumn-1"', f'set = "{name}"')
    if supersedes:
        text = text.replace('# supersedes = "autumn-0"', f'supersedes = "{supersedes}"')
    path.write_text(text, encoding="utf-8")
    return folder


def test_an_admitted_set_lies_in_the_study_as_handed_in_with_its_decision(
    study: StudyFolder, handed_in: Path, admitted: AdmitResult
) -> None:
    folder = study.set_folder("anna.autumn-1")
    held = _bytes(folder)
    sums = held.pop("SHA256SUMS")
    assert held == _bytes(handed_in)
    assert sums.decode().count("\n") == len(held)
    assert altered_files(folder) == []
    assert read_decisions(study.decisions).decisions == (
        Decision(
            "anna.autumn-1",
            "anna",
            DAY,
            admitted.check.verdict,
            sha256_of(folder / "SHA256SUMS"),
            "CC-BY-4.0",
            "1",
        ),
    )


def test_version_control_is_told_to_leave_the_bytes_alone(
    study: StudyFolder, admitted: AdmitResult
) -> None:
    assert admitted.admitted
    attributes = (study.root / ".gitattributes").read_text(encoding="utf-8")
    assert attributes == "sets/** -text\ncaptures/** -text\n"


def test_a_returned_set_leaves_the_study_untouched(
    study: StudyFolder, handed_in: Path, edit: Edit
) -> None:
    before = _bytes(study.root)
    edit(handed_in / "sessions.csv", lambda row: row | {"driver_version": ""})
    result = admit(study, handed_in, received_on=DAY)
    assert not result.admitted
    assert result.check.verdict == "returned"
    assert _bytes(study.root) == before


def test_the_same_set_is_refused_under_its_own_and_under_another_name(
    study: StudyFolder, handed_in: Path, admitted: AdmitResult
) -> None:
    assert admitted.admitted
    before = _bytes(study.root)
    with pytest.raises(StudyError, match=r"anna\.autumn-1 was already admitted on 2026-10-20"):
        admit(study, handed_in, received_on=DAY)
    assert _bytes(study.root) == before


def test_a_workbook_under_another_file_name_is_the_same_set(
    study: StudyFolder, handed_in: Path, admitted: AdmitResult
) -> None:
    assert admitted.decision is not None
    staged = admit_module._Staged(handed_in, "f" * 64, {})
    shutil.copy(study.set_folder("anna.autumn-1") / "SHA256SUMS", handed_in / "SHA256SUMS")
    with pytest.raises(StudyError, match=r"already admitted on 2026-10-20 as anna\.autumn-1"):
        admit_module._refuse_same_files(study, read_decisions(study.decisions), staged)


def test_a_set_supersedes_another_whole(
    study: StudyFolder, handed_in: Path, admitted: AdmitResult
) -> None:
    assert admitted.admitted
    again = _renamed(handed_in, "autumn-2", supersedes="autumn-1")
    result = admit(study, again, received_on=dt.date(2026, 10, 28))
    assert result.decision is not None, result.check.findings
    assert result.decision.supersedes == "anna.autumn-1"
    held = read_decisions(study.decisions)
    assert [item.set_id for item in held.in_force] == ["anna.autumn-2"]


def test_superseding_an_unknown_set_is_refused_and_leaves_nothing(
    study: StudyFolder, handed_in: Path
) -> None:
    before = _bytes(study.root)
    with pytest.raises(StudyError, match=r"no set 'anna\.summer'"):
        admit(study, handed_in, received_on=DAY, supersedes="anna.summer")
    assert _bytes(study.root) == before
    assert list(study.sets.iterdir()) == []


def test_a_set_and_its_curator_must_agree_on_what_it_supersedes(
    study: StudyFolder, handed_in: Path, admitted: AdmitResult
) -> None:
    assert admitted.admitted
    again = _renamed(handed_in, "autumn-2", supersedes="autumn-1")
    with pytest.raises(StudyError, match=r"supersedes anna\.autumn-1, not anna\.autumn-0"):
        admit(study, again, received_on=DAY, supersedes="anna.autumn-0")


@pytest.mark.parametrize("stops_at", ["write_decisions", "keep_bytes", "sync_folder"])
def test_an_interrupted_admission_is_as_if_it_had_not_begun_and_can_be_done_again(
    study: StudyFolder, handed_in: Path, monkeypatch: pytest.MonkeyPatch, stops_at: str
) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(admit_module, stops_at, stop)
        with pytest.raises(KeyboardInterrupt):
            admit(study, handed_in, received_on=DAY)
    assert read_decisions(study.decisions).decisions == ()
    assert [path.name for path in study.sets.iterdir() if path.name.endswith(".part")] == []
    assert admit(study, handed_in, received_on=DAY).admitted
    assert altered_files(study.set_folder("anna.autumn-1")) == []


def test_a_rule_is_waived_by_name_with_a_reason(
    study: StudyFolder, handed_in: Path, edit: Edit
) -> None:
    edit(handed_in / "runs.csv", lambda row: row | {"low_1pct_rank_fps": "180.0"})
    refused = admit(study, handed_in, received_on=DAY)
    rules = sorted(
        {finding.rule for finding in refused.check.findings if finding.severity == "error"}
    )
    assert not refused.admitted
    assert rules
    waivers = [Waiver(rule, "the logger swaps its columns") for rule in rules]
    result = admit(study, handed_in, received_on=DAY, waivers=waivers)
    assert result.decision is not None
    assert result.decision.verdict == "returned"
    assert read_decisions(study.decisions).decisions[0].waivers == tuple(waivers)


@pytest.mark.parametrize(
    ("rule", "reason", "said"),
    [
        ("no_such_rule", "why", "no rule 'no_such_rule'"),
        ("type_spelling", "why", "can't be waived in"),
        ("average_below_low", "why", "doesn't return the set"),
    ],
)
def test_a_waiver_that_can_not_be_meant_is_refused(
    study: StudyFolder, handed_in: Path, rule: str, reason: str, said: str
) -> None:
    with pytest.raises(StudyError, match=said):
        admit(study, handed_in, received_on=DAY, waivers=[Waiver(rule, reason)])


def test_a_withdrawn_set_leaves_its_tombstone(study: StudyFolder, admitted: AdmitResult) -> None:
    assert admitted.decision is not None
    held = withdraw(study, "anna.autumn-1", on=dt.date(2026, 11, 1), reason="asked for")
    assert held == read_decisions(study.decisions)
    assert held.state("anna.autumn-1") == "withdrawn"
    assert held.in_force == ()


def test_a_file_that_vanishes_while_it_is_read_leaves_the_study_as_it_was(
    study: StudyFolder, handed_in: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = shutil.copyfile

    def vanished(source: Path, target: Path) -> None:
        source.unlink()
        copy(source, target)

    before = _bytes(study.root)
    with monkeypatch.context() as patched:
        patched.setattr(shutil, "copyfile", vanished)
        with pytest.raises(StorageError, match="vanished while it was read"):
            admit(study, handed_in, received_on=DAY)
    study.holder.unlink()
    assert _bytes(study.root) == before


def _measured_again(row: dict[str, str]) -> dict[str, str]:
    """In another session, with other numbers: a copy of another set's runs is returned."""
    slower = {
        name: f"{float(row[name]) - 0.7:.1f}" for name in ("average_fps", "low_1pct_rank_fps")
    }
    return slower | {"session": f"1{row['session']}"}


_AT_ONCE = """
import datetime as dt, sys
from pathlib import Path
from rigledger.intake.check import check_set
from rigledger.study import admit as admit_module, locking
from rigledger.study.layout import open_study

admit_module.check_apart = lambda path, study, *, keep, **_: check_set(path, study, keep=keep)
locking._WAIT_SECONDS = 300
print("ready", flush=True)
sys.stdin.readline()
study = open_study(Path(sys.argv[1]))
result = admit_module.admit(study, Path(sys.argv[2]), received_on=dt.date(2026, 10, 20))
sys.exit(0 if result.admitted else 1)
"""


def test_of_two_admissions_at_once_one_waits_and_none_is_lost(
    study: StudyFolder, handed_in: Path, edit: Edit
) -> None:
    other = _renamed(shutil.copytree(handed_in, handed_in.with_name("other")), "autumn-2")
    edit(
        other / "sessions.csv",
        lambda row: (
            row
            | {name: f"1{row[name]}" for name in ("session", "boot")}
            | {"started_on": row["started_on"].replace("-10-0", "-10-1")}
        ),
    )
    edit(other / "runs.csv", lambda row: row | _measured_again(row))
    writers = [
        subprocess.Popen(  # noqa: S603 - our own interpreter
            [sys.executable, "-c", _AT_ONCE, str(study.root), str(path)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )
        for path in (handed_in, other)
    ]  # fmt: skip
    for writer in writers:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write("go\n")
        writer.stdin.flush()
    for writer in writers:
        writer.communicate()
    assert [writer.returncode for writer in writers] == [0, 0]
    held = read_decisions(study.decisions).decisions
    assert sorted(item.set_id for item in held) == ["anna.autumn-1", "anna.autumn-2"]
    assert [altered_files(study.set_folder(item.set_id)) for item in held] == [[], []]


_KILLED = """
import datetime as dt, os, signal, sys
from pathlib import Path
from rigledger.intake.check import check_set
from rigledger.study import admit as admit_module, set_captures as captures_module
from rigledger.study.layout import open_study

admit_module.check_apart = lambda path, study, *, keep, **_: check_set(path, study, keep=keep)

def stop(*args, **more):
    os.kill(os.getpid(), signal.SIGKILL)

for module in (admit_module, captures_module):
    setattr(module, sys.argv[1], stop)
study = open_study(Path(sys.argv[2]))
admit_module.admit(study, Path(sys.argv[3]), received_on=dt.date(2026, 10, 20))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL")
@pytest.mark.parametrize("stops_at", ["store_captures", "keep_bytes"])
def test_a_killed_admission_leaves_the_old_state_and_the_next_one_tidies_up(
    study: StudyFolder, handed_in: Path, stops_at: str
) -> None:
    command = [sys.executable, "-c", _KILLED, stops_at, str(study.root), str(handed_in)]
    assert subprocess.run(command, check=False).returncode == -9  # noqa: S603 - our own interpreter
    assert not study.decisions.exists()
    assert admit(study, handed_in, received_on=DAY).admitted
    assert [path.name for path in study.sets.iterdir()] == ["anna.autumn-1"]
    assert altered_files(study.set_folder("anna.autumn-1")) == []
