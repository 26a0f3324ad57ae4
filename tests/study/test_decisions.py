"""decisions.toml is append-only, and says what became of each set."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigledger.errors import StudyError
from rigledger.study.decisions import (
    Decision,
    Decisions,
    Waiver,
    decisions_text,
    read_decisions,
    write_decisions,
)

if TYPE_CHECKING:
    from pathlib import Path

DAY = dt.date(2026, 10, 20)
FIRST = Decision("anna.one", "anna", DAY, "accepted", "0" * 64, "CC-BY-4.0", "1")
SECOND = replace(FIRST, set_id="anna.two", sha256="1" * 64, supersedes="anna.one")

# Anything a person may write, controls and quotes included; TOML can't hold lone surrogates.
texts = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60).filter(str.strip)
days = st.dates(dt.date(2000, 1, 1), dt.date(2100, 1, 1))
waivers = st.builds(
    Waiver, rule=st.from_regex(r"[a-z][a-z0-9_]{0,9}", fullmatch=True), reason=texts
)


@st.composite
def histories(draw: st.DrawFn) -> Decisions:
    held = Decisions()
    for number in range(draw(st.integers(0, 4))):
        force = [item.set_id for item in held.in_force]
        held = held.with_decision(
            Decision(
                f"anna.set-{number}",
                "anna",
                draw(days),
                draw(st.sampled_from(["accepted", "accepted_with_remarks", "returned"])),
                draw(st.from_regex(r"[0-9a-f]{64}", fullmatch=True)),
                "CC-BY-4.0",
                "1",
                draw(st.sampled_from([None, *force])),
                draw(st.none() | days),
                draw(st.none() | st.from_regex(r"[0-9a-f]{64}", fullmatch=True)),
                tuple(draw(st.lists(waivers, max_size=2))),
            )
        )
    for set_id in (
        draw(st.sets(st.sampled_from([item.set_id for item in held.decisions])))
        if held.decisions
        else ()
    ):
        held = held.with_withdrawal(set_id, draw(days), draw(texts))
    return held


@settings.get_profile("costly")
@given(histories())
def test_what_is_written_reads_back_the_same(
    tmp_path_factory: pytest.TempPathFactory, held: Decisions
) -> None:
    path = tmp_path_factory.mktemp("decisions") / "decisions.toml"
    path.write_text(decisions_text(held), encoding="utf-8", newline="\n")
    assert read_decisions(path) == held


def test_no_file_means_no_decisions(tmp_path: Path) -> None:
    assert read_decisions(tmp_path / "decisions.toml") == Decisions()


def test_a_superseded_set_is_out_of_force_and_stays_so_when_its_successor_is_withdrawn() -> None:
    held = Decisions().with_decision(FIRST).with_decision(SECOND)
    assert held.in_force == (SECOND,)
    gone = held.with_withdrawal("anna.two", DAY, "asked for")
    assert gone.in_force == ()
    assert [gone.state(name) for name in ("anna.one", "anna.two")] == ["superseded", "withdrawn"]


@pytest.mark.parametrize(
    ("decision", "said"),
    [
        (FIRST, "already in the study"),
        (replace(SECOND, supersedes="anna.noe"), "did you mean 'anna.one'"),
        (replace(SECOND, set_id="ben.two", contributor="ben"), "another contributor's"),
    ],
)
def test_a_decision_that_contradicts_the_study_is_refused(decision: Decision, said: str) -> None:
    with pytest.raises(StudyError, match=said):
        Decisions().with_decision(FIRST).with_decision(decision)


def test_what_was_superseded_already_names_the_set_to_supersede_instead() -> None:
    held = Decisions().with_decision(FIRST).with_decision(SECOND)
    third = replace(SECOND, set_id="anna.three")
    with pytest.raises(StudyError, match=r"supersede anna\.two instead"):
        held.with_decision(third)


def test_a_set_is_withdrawn_once_and_only_if_it_is_there() -> None:
    held = Decisions().with_decision(FIRST).with_withdrawal("anna.one", DAY, "asked for")
    with pytest.raises(StudyError, match="already withdrawn"):
        held.with_withdrawal("anna.one", DAY, "again")
    with pytest.raises(StudyError, match=r"no set 'ben\.one'"):
        held.with_withdrawal("ben.one", DAY, "asked for")


def test_a_decision_can_not_be_changed_or_taken_out(tmp_path: Path) -> None:
    path = tmp_path / "decisions.toml"
    write_decisions(path, Decisions((FIRST,)))
    before = path.read_bytes()
    for other in (Decisions(), Decisions((replace(FIRST, verdict="returned"),))):
        with pytest.raises(StudyError, match="added, never changed"):
            write_decisions(path, other)
    assert path.read_bytes() == before
    write_decisions(path, Decisions((FIRST, SECOND)))
    assert read_decisions(path) == Decisions((FIRST, SECOND))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('verdict = "accepted"', 'verdict = "acepted"', "did you mean 'accepted'"),
        ('sha256 = "' + "0" * 64, 'sha256 = "0', "pattern"),
        ("received_on = 2026-10-20", 'received_on = "2026-10-20"', "must be a date"),
        ("consent_version", "consent", "unknown key"),
    ],
)
def test_a_slip_by_hand_is_refused_at_its_key(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    text = decisions_text(Decisions((FIRST,)))
    assert old in text
    path = tmp_path / "decisions.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(StudyError, match=said):
        read_decisions(path)


def test_a_withdrawal_with_another_hash_than_its_decision_is_refused(tmp_path: Path) -> None:
    held = Decisions().with_decision(FIRST).with_withdrawal("anna.one", DAY, "asked for")
    head, _, tail = decisions_text(held).partition("[[withdrawals]]")
    path = tmp_path / "decisions.toml"
    path.write_text(f"{head}[[withdrawals]]{tail.replace('0' * 64, '2' * 64)}", encoding="utf-8")
    with pytest.raises(StudyError, match="differs from the hash"):
        read_decisions(path)
