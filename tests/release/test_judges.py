"""Processes beside judge a release as this one does."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pytest

from rigledger.errors import StudyError
from rigledger.intake.gate import IntakeError
from rigledger.release import judges
from rigledger.release.errors import ReleaseError
from rigledger.release.judges import CHECK, JudgesHere, judges_beside

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture(scope="module")
def process() -> Iterator[judges.Process]:
    with judges._process() as started:
        yield started


def test_answers_are_had_in_any_order(process: judges.Process) -> None:
    asked = [process.ask("operator.add", number, 1) for number in range(4)]
    assert [asked[place]() for place in (2, 0, 3, 1)] == [3, 1, 4, 2]
    assert JudgesHere().ask("operator.add", 1, 1)() == 2


def test_answers_that_fill_no_pipe_stop_nobody(process: judges.Process) -> None:
    asked = [process.ask("operator.mul", "x" * 300_000, 1) for _ in range(3)]
    assert [len(answer()) for answer in asked] == [300_000] * 3


def test_an_error_is_raised_where_the_answer_is_wanted(
    process: judges.Process, tmp_path: Path
) -> None:
    missing = process.ask(CHECK, str(tmp_path / "set"), str(tmp_path / "study"), str(tmp_path))
    with pytest.raises((StudyError, IntakeError)) as beside:
        missing()
    with pytest.raises(type(beside.value)) as here:
        JudgesHere().ask(CHECK, str(tmp_path / "set"), str(tmp_path / "study"), str(tmp_path))()
    assert str(beside.value) == str(here.value)


def test_a_fault_of_ours_is_said_in_its_own_words(process: judges.Process) -> None:
    with pytest.raises(ReleaseError, match="fell over: ZeroDivisionError: "):
        process.ask("operator.truediv", 1, 0)()
    assert process.ask("operator.add", 1, 1)() == 2


@pytest.mark.skipif(sys.platform == "win32", reason="no such exit code")
def test_a_process_that_ends_before_it_answers_is_an_error() -> None:
    with judges._process() as started:
        answers = [started.ask("os._exit", 3), started.ask("operator.add", 1, 1)]
        for answer in answers:
            with pytest.raises(ReleaseError, match="fell over: it ended with exit code 3"):
                answer()


def test_what_a_judge_prints_is_no_answer(process: judges.Process) -> None:
    asked = [process.ask("builtins.print", "....."), process.ask("operator.add", 1, 1)]
    assert [answer() for answer in asked] == [None, 2]


def test_processes_are_gone_when_the_release_is_done() -> None:
    with judges_beside() as beside:
        beside.ask(CHECK)
        assert isinstance(beside, judges.JudgesBeside)
        children = [beside._rules._child, beside._programs._child]
    assert [child.poll() is not None for child in children] == [True, True]
