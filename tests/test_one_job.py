"""A process that does one job ends at once, and as it would have ended."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

BEGIN = "import atexit, gc, os, sys; from rigledger.one_job import OneJob; job = OneJob(); "


def ended(code: str, **streams: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", BEGIN + code]
    env = {name: text for name, text in os.environ.items() if name != "PYTHONUNBUFFERED"}
    return subprocess.run(command, env=env, text=True, check=False, **streams)  # type: ignore[call-overload,no-any-return]  # noqa: S603 - our own interpreter


def run(code: str) -> tuple[int, str, str]:
    done = ended(code, capture_output=True)
    return done.returncode, done.stdout, done.stderr


def test_nothing_is_taken_apart_and_what_was_said_is_said() -> None:
    code = """
class Loud:
    def __del__(self):
        print("taken apart")
held = Loud()
sys.stdout.write("said")
job.code = 3
"""
    assert run(code) == (3, "said", "")
    # Without a code it ends as any other process does.
    assert run(code.replace("job.code = 3", "")) == (0, "saidtaken apart\n", "")


def test_what_was_registered_for_the_end_is_called_and_threads_are_waited_for() -> None:
    code = """
import threading, time
atexit.register(print, "registered")
threading.Thread(target=lambda: (time.sleep(0.05), print("thread"))).start()
job.code = 0
"""
    assert run(code) == (0, "thread\nregistered\n", "")


def test_an_error_that_nobody_caught_ends_it_as_ever() -> None:
    code, said, errors = run("raise SystemExit('no')")
    assert (code, said, errors) == (1, "", "no\n")
    code, said, errors = run("1 / 0")
    assert (code, said) == (1, "")
    assert errors.endswith("ZeroDivisionError: division by zero\n")


def test_garbage_is_not_searched_for_and_a_wish_for_more_threads_is_kept() -> None:
    code = "print(gc.isenabled(), os.environ['OPENBLAS_NUM_THREADS'])"
    assert run(code)[1] == "False 1\n"
    before = f"import os; os.environ['OPENBLAS_NUM_THREADS'] = '4'; {BEGIN}{code}"
    command = [sys.executable, "-c", before]
    done = subprocess.run(command, capture_output=True, text=True, check=True)  # noqa: S603 - ours
    assert done.stdout == "False 4\n"


@pytest.mark.skipif(sys.platform != "linux", reason="needs a device that is always full")
def test_what_can_t_be_said_is_no_success() -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:  # noqa: PTH123 - a device
        done = ended("print('said'); job.code = 0", stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 120
    assert "No space left on device" in done.stderr
