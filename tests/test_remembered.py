"""What was found once is not looked for again, unless what it follows from has changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigledger import remembered
from rigledger.remembered import Remembered, key_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@pytest.fixture(autouse=True)
def other_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let each test begin without what this process remembers."""
    monkeypatch.setattr(remembered, "_IN_PROCESS", remembered.OrderedDict())


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Give a file that remembers 1 for the key "a" and 2 for the key "b"."""
    file = tmp_path / "kept.json"
    first = Remembered(file)
    assert first.recall("a", lambda: [1]) == [1]
    assert first.recall("b", lambda: {"ä": None}) == {"ä": None}
    first.keep()
    remembered._IN_PROCESS.clear()
    return file


def never() -> object:
    pytest.fail("it was looked for again")


def test_a_key_is_the_hash_of_all_its_parts_and_not_of_their_order_within() -> None:
    assert key_of("a", {"x": 1, "y": 2}) == key_of("a", {"y": 2, "x": 1})
    assert len({key_of("a", "b"), key_of("ab"), key_of("b", "a"), key_of(["a", "b"])}) == 4


def test_it_is_remembered_in_the_process_and_nobody_can_change_it() -> None:
    Remembered().recall("a", lambda: [1]).append(2)
    assert Remembered().recall("a", never) == [1]
    assert Remembered().knows("a")


def test_what_is_to_be_found_later_is_begun_at_once_and_waited_for() -> None:
    begun: list[str] = []

    def begin() -> Callable[[], list[int]]:
        begun.append("begun")
        return lambda: [1]

    wait = Remembered().later("a", begin)
    assert (begun, Remembered().knows("a")) == (["begun"], False)
    assert (wait(), Remembered().recall("a", never)) == ([1], [1])
    assert Remembered().later("a", begin)() == [1]
    assert begun == ["begun"]


def test_what_was_known_when_it_was_asked_for_is_given_whatever_is_remembered_since(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(remembered, "_MOST_IN_PROCESS", 1)
    held = Remembered()
    held.recall("a", lambda: [1])
    wait = Remembered().later("a", never)
    held.recall("b", lambda: [2])
    assert (wait(), Remembered().knows("a")) == ([1], False)


def test_it_is_remembered_in_the_file(file: Path) -> None:
    again = Remembered(file)
    assert again.knows("a")
    assert (again.recall("a", never), again.recall("b", never)) == ([1], {"ä": None})


def test_what_was_not_asked_for_again_is_forgotten(file: Path) -> None:
    again = Remembered(file)
    again.recall("a", never)
    again.keep()
    remembered._IN_PROCESS.clear()
    assert (Remembered(file).knows("a"), Remembered(file).knows("b")) == (True, False)


def test_who_looks_at_a_part_alone_lets_nothing_be_forgotten(file: Path) -> None:
    again = Remembered(file)
    again.recall("c", lambda: 3)
    again.keep(forget=False)
    remembered._IN_PROCESS.clear()
    assert [Remembered(file).knows(key) for key in ("a", "b", "c")] == [True, True, True]


def test_an_altered_file_is_noticed_and_everything_is_found_again(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    assert "[1]" in text
    file.write_text(text.replace("[1]", "[7]"), encoding="utf-8")
    assert Remembered(file).recall("a", lambda: [3]) == [3]


def test_another_version_of_the_program_forgets(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(remembered, "code_sha256", lambda: "another")
    assert not Remembered(file).knows("a")


def test_where_it_can_t_be_written_it_is_found_again_the_next_time(tmp_path: Path) -> None:
    (tmp_path / "in-the-way").write_text("", encoding="utf-8")
    held = Remembered(tmp_path / "in-the-way" / "kept.json")
    assert held.recall("a", lambda: 1) == 1
    held.keep()
    assert (tmp_path / "in-the-way").read_text(encoding="utf-8") == ""


def test_what_raises_is_not_remembered() -> None:
    def broken() -> object:
        raise ValueError("broken")

    with pytest.raises(ValueError, match="broken"):
        Remembered().recall("a", broken)
    assert not Remembered().knows("a")
